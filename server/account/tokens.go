package account

import (
	"net/http"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

// mostTokens bounds how many tokens of one person are alive.
const mostTokens = 20

// tokenDays are the times that a token can be made for.
func tokenDays() []string { return []string{"90", "30", "365"} }

type tokensPage struct {
	Tokens []quiz.Token
	Days   []string
	Name   string
	Chosen string
	Secret string // of the token that was just made: shown this once
	Made   string // its name
	Now    time.Time
	Faults map[string]string
}

func (p *Pages) tokens(c *web.Context) error { return p.tokensPage(c, http.StatusOK, tokensPage{}) }

func (p *Pages) tokensPage(c *web.Context, status int, page tokensPage) error {
	list, err := c.App.Store.Tokens(c.Ctx(), c.Visitor.ID)
	if err != nil {
		return err
	}
	page.Tokens, page.Days, page.Now = list, tokenDays(), c.Now()
	return c.PageStatus(p.set, status, "account-tokens", page)
}

// addToken makes a token. Its secret is in the answer and nowhere else, so that
// there is no page to go on to; the same form again makes no other.
func (p *Pages) addToken(c *web.Context) error {
	ctx, f := c.Ctx(), c.Form()
	page := tokensPage{Name: f.Text("name", true, 100), Chosen: f.One("days", tokenDays()...)}
	days := f.Int("days", 1, 400, 90)
	list, err := c.App.Store.Tokens(ctx, c.Visitor.ID)
	if err != nil {
		return err
	}
	alive := 0
	for _, t := range list {
		if t.Alive(c.Now()) {
			alive++
		}
	}
	if alive >= mostTokens {
		f.Fault("name", "account.tokens.many", "Most", mostTokens)
	}
	if !f.OK() {
		page.Faults = f.Faults
		return p.tokensPage(c, http.StatusUnprocessableEntity, page)
	}
	first, _, err := c.App.Store.Allow(ctx, "token "+c.Visitor.ID+" "+f.Key(), store.Rate{Burst: 1, Every: 24 * time.Hour})
	if err != nil {
		return err
	}
	if !first {
		c.Flash(c.T("account.tokens.twice"))
		return c.Go("/account/tokens")
	}
	t := quiz.Token{Person: c.Visitor.ID, Name: page.Name, Expires: c.Now().AddDate(0, 0, days)}
	secret, err := c.App.Store.AddToken(ctx, c.Visitor.ID, &t)
	if err != nil {
		return err
	}
	return p.tokensPage(c, http.StatusOK, tokensPage{Secret: secret, Made: t.Name})
}

func (p *Pages) revokeToken(c *web.Context) error {
	ctx := c.Ctx()
	list, err := c.App.Store.Tokens(ctx, c.Visitor.ID)
	if err != nil {
		return err
	}
	for _, t := range list {
		if t.ID == c.Param("token") {
			if err := c.App.Store.RevokeToken(ctx, c.Visitor.ID, t.ID); err != nil {
				return err
			}
			c.Flash(c.T("account.tokens.revoked", "Name", t.Name))
			return c.Go("/account/tokens")
		}
	}
	return quiz.Errorf(quiz.NotFound, "there is no such token of yours")
}
