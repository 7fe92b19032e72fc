package administrator

import (
	"cmp"
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/cases"

	"rightpage/quiz"
	"rightpage/server/web"
)

// perPage is how many people a page lists.
const perPage = 50

// The states of an account, as the end of message IDs and as filters.
const (
	stateLeft    = "left"    // the person has left
	stateErased  = "erased"  // the person's data was erased
	stateNone    = "none"    // the person has no account
	stateWaiting = "waiting" // no password was chosen yet
	stateMust    = "must"    // a password that has to be changed
	stateReady   = "ready"
)

// entry is a person with what a list shows besides.
type entry struct {
	quiz.Person
	SiteName, Login, State string
	Touch                  bool // the visitor may change the person
}

// Waiting tells whether the person has an account and no password yet.
func (e entry) Waiting() bool { return e.State == stateWaiting }

// Reach tells whether a code can be given to the person.
func (e entry) Reach() bool {
	return e.Touch && (e.State == stateWaiting || e.State == stateMust || e.State == stateReady)
}

// filter says whom a list shows.
type filter struct{ Text, Site, Role, State string }

func readFilter(c *web.Context) filter {
	return filter{strings.TrimSpace(c.QueryParam("q")), c.QueryParam("site"), c.QueryParam("role"), c.QueryParam("state")}
}

// address is that of a page with the filter and more in its query.
func (f filter) address(path string, pairs ...string) string {
	v := url.Values{}
	for name, value := range map[string]string{"q": f.Text, "site": f.Site, "role": f.Role, "state": f.State} {
		if value != "" {
			v.Set(name, value)
		}
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return path + "?" + v.Encode()
}

type peoplePage struct {
	Filter     filter
	People     []entry
	Total      int
	Page, Last int
	Before     string // address of the page before, "" if there is none
	After      string
	CSV, XLSX  string // addresses of the list as a file
	Sites      []quiz.Site
	Roles      []quiz.Role
	States     []string
	Mails      bool
	Waiting    int // of those shown: without a password
	Reach      int // of those shown: a code can be given to
}

func (p *Pages) people(c *web.Context) error {
	f := readFilter(c)
	all, sites, err := p.find(c, f)
	if err != nil {
		return err
	}
	page := peoplePage{Filter: f, Total: len(all), Sites: sites, Roles: quiz.Roles(), Mails: p.account.Mails(),
		CSV: f.address("/people/export", "as", "csv"), XLSX: f.address("/people/export", "as", "xlsx"),
		States: []string{"", stateWaiting, stateNone, stateLeft, "all"}}
	page.Last = max(1, (len(all)+perPage-1)/perPage)
	page.Page = min(max(queryNumber(c, "page"), 1), page.Last)
	first := (page.Page - 1) * perPage
	page.People = all[first:min(first+perPage, len(all))]
	if err := p.fill(c.Ctx(), page.People); err != nil {
		return err
	}
	for _, e := range page.People {
		if e.Waiting() {
			page.Waiting++
		}
		if e.Reach() {
			page.Reach++
		}
	}
	if page.Page > 1 {
		page.Before = f.address("/people", "page", strconv.Itoa(page.Page-1))
	}
	if page.Page < page.Last {
		page.After = f.address("/people", "page", strconv.Itoa(page.Page+1))
	}
	return c.Page(p.set, "administrator-people", page)
}

// find lists the people that a filter leaves, by name. Their accounts are read
// where the filter needs them; see [Pages.fill].
func (p *Pages) find(c *web.Context, f filter) ([]entry, []quiz.Site, error) {
	ctx := c.Ctx()
	sites, err := p.app.Store.Sites(ctx)
	if err != nil {
		return nil, nil, err
	}
	names := map[string]string{}
	for _, s := range sites {
		names[s.ID] = s.Name
	}
	people, err := p.app.Store.People(ctx)
	if err != nil {
		return nil, nil, err
	}
	fold := cases.Fold()
	text, byLogin := fold.String(f.Text), ""
	if text != "" {
		account, err := p.app.Store.Account(ctx, f.Text)
		if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
			return nil, nil, err
		}
		byLogin = account.Person
	}
	var list []entry
	for _, x := range people {
		if !c.Covers(&x) {
			continue
		}
		if text != "" && x.ID != byLogin && !strings.Contains(fold.String(x.Name+"\n"+x.Number+"\n"+x.Mail), text) {
			continue
		}
		if f.Site == "-" && x.Site != "" || f.Site != "" && f.Site != "-" && x.Site != f.Site || f.Role != "" && !slices.Contains(x.Roles, quiz.Role(f.Role)) {
			continue
		}
		gone := !x.Active(c.Now())
		if f.State == stateLeft && !gone || f.State != stateLeft && f.State != "all" && gone {
			continue
		}
		e := entry{Person: x, SiteName: names[x.Site], Touch: mayTouch(c, &x)}
		switch {
		case !x.Erased.IsZero():
			e.State = stateErased
		case gone:
			e.State = stateLeft
		}
		list = append(list, e)
	}
	if f.State == stateWaiting || f.State == stateNone {
		if err := p.fill(ctx, list); err != nil {
			return nil, nil, err
		}
		list = slices.DeleteFunc(list, func(e entry) bool { return e.State != f.State })
	}
	slices.SortStableFunc(list, func(a, b entry) int { return cmp.Compare(fold.String(a.Name), fold.String(b.Name)) })
	return list, sites, nil
}

// fill reads the accounts of people.
func (p *Pages) fill(ctx context.Context, list []entry) error {
	for i := range list {
		if list[i].Login != "" || list[i].State == stateErased || list[i].State == stateNone {
			continue
		}
		a, err := p.app.Store.AccountOf(ctx, list[i].ID)
		if err != nil && quiz.ErrorCode(err) != quiz.NotFound {
			return err
		}
		list[i].Login = a.Login
		if list[i].State == "" {
			list[i].State = accountState(a)
		}
	}
	return nil
}

func accountState(a quiz.Account) string {
	switch {
	case a.Login == "":
		return stateNone
	case a.Hash == "":
		return stateWaiting
	case a.Must:
		return stateMust
	}
	return stateReady
}

// peopleTable answers with the list as a file, in the columns of the import.
func (p *Pages) peopleTable(c *web.Context) error {
	list, _, err := p.find(c, readFilter(c))
	if err != nil {
		return err
	}
	if err := p.fill(c.Ctx(), list); err != nil {
		return err
	}
	t := &web.Table{Name: "people", Columns: append(columnNames(c.Words), c.T("administrator.column.state"), c.T("administrator.column.since"))}
	for _, e := range list {
		roles := make([]string, len(e.Roles))
		for i, r := range e.Roles {
			roles[i] = string(r)
		}
		t.Rows = append(t.Rows, []any{e.Name, e.Number, e.Mail, e.SiteName, strings.Join(roles, ", "), e.Login, e.Locale,
			c.Words.Or("administrator.account."+e.State, e.State), e.Created})
	}
	if err := p.app.Store.RecordAudit(c.Ctx(), c.Visitor.ID, "people.export", "people", map[string]any{"rows": len(list)}); err != nil {
		return err
	}
	return c.Table(t)
}

// queryNumber gives a number of the query, 0 if it is none.
func queryNumber(c *web.Context, name string) int {
	n, _ := strconv.Atoi(c.QueryParam(name))
	return n
}
