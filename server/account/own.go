package account

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"slices"
	"time"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/server/web"
	"rightpage/server/words"
)

// shownNotices is how many notices the page shows.
const shownNotices = 50

// notice is a notice with its text and what it is about.
type notice struct {
	ID, Text, Path string
	At             time.Time
	New            bool
}

type ownPage struct {
	Site, Login string
	Notices     []notice
	New         int
	Languages   []string
}

func (p *Pages) own(c *web.Context) error {
	ctx := c.Ctx()
	page := ownPage{Languages: words.Locales()}
	sites, err := c.App.Store.Sites(ctx)
	if err != nil {
		return err
	}
	for _, s := range sites {
		if s.ID == c.Visitor.Site {
			page.Site = s.Name
		}
	}
	account, err := c.App.Store.AccountOf(ctx, c.Visitor.ID)
	if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
		return err
	}
	page.Login = account.Login
	list, err := c.App.Store.Notices(ctx, c.Visitor.ID, shownNotices)
	if err != nil {
		return err
	}
	for _, n := range list {
		page.Notices = append(page.Notices, notice{n.ID, c.Words.Notice(n.Kind, n.Detail), web.NoticePath(n), n.At, n.Read.IsZero()})
		if n.Read.IsZero() {
			page.New++
		}
	}
	return c.Page(p.set, "account-own", page)
}

func (p *Pages) readNotices(c *web.Context) error {
	ids := c.Form().Many("id")
	if len(ids) > shownNotices {
		return quiz.Errorf(quiz.Invalid, "%d notices at once are too many", len(ids))
	}
	for _, id := range ids {
		if err := c.App.Store.ReadNotice(c.Ctx(), c.Visitor.ID, id); err != nil {
			return err
		}
	}
	return c.Go("/account")
}

func (p *Pages) saveOwn(c *web.Context) error {
	f := c.Form()
	person := *c.Visitor
	person.Locale = f.One("language", append([]string{person.Locale}, words.Locales()...)...)
	person.Apart = f.On("apart")
	person.Version = f.Int("version", 1, 1<<30, 0)
	if !f.OK() {
		return quiz.Errorf(quiz.Invalid, "there is no language %s", f.Raw("language"))
	}
	if err := c.App.Store.SavePerson(c.Ctx(), person.ID, &person); err != nil {
		return err
	}
	c.Remember("language", person.Locale)
	c.Flash(c.App.Words.Printer(person.Locale).T("account.own.saved"))
	return c.Go("/account")
}

// look chooses the language and light or dark, for strangers and for people who
// have signed in.
func (p *Pages) look(c *web.Context) error {
	f := c.Form()
	if look := f.Raw("look"); look == "" || look == "light" || look == "dark" {
		c.Remember("look", look)
	}
	if language := f.Raw("language"); slices.Contains(words.Locales(), language) {
		c.Remember("language", language)
		if person := c.Visitor; person != nil && c.App.Words.Match(person.Locale) != language {
			person.Locale = language
			// If the person is being changed by somebody else the choice is made again.
			if err := c.App.Store.SavePerson(c.Ctx(), person.ID, person); err != nil {
				return err
			}
		}
	}
	return c.Go(local(f.Raw("back")))
}

func (p *Pages) export(c *web.Context) error { return Export(c, c.Visitor) }

// Export answers with everything that is kept about a person, as a file. It is
// whole before its first byte is sent, and kept on disk so long: images of
// scanned sheets can be large.
func Export(c *web.Context, person *quiz.Person) error {
	f, err := os.CreateTemp("", "rightpage-person-*.json")
	if err != nil {
		return fmt.Errorf("export the data of a person: %w", err)
	}
	defer os.Remove(f.Name())
	defer f.Close()
	if err := c.App.Store.ExportPerson(c.Ctx(), c.Visitor.ID, person.ID, f); err != nil {
		return err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("export the data of a person: %w", err)
	}
	h := c.Response().Header()
	h.Set(echo.HeaderContentDisposition, `attachment; filename="person-`+person.ID+`.json"`)
	h.Set(echo.HeaderCacheControl, "no-store")
	return c.Stream(http.StatusOK, echo.MIMEApplicationJSON, f)
}
