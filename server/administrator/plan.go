package administrator

import (
	"context"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"rightpage/quiz"
	"rightpage/server/web"
	"rightpage/server/words"
)

// The columns of a list of people, in their order.
func columns() []string {
	return []string{"name", "number", "mail", "site", "roles", "login", "language"}
}

// columnNames gives the columns in a language.
func columnNames(w *words.Printer) []string {
	var list []string
	for _, c := range columns() {
		list = append(list, w.Or("administrator.column."+c, c))
	}
	return list
}

// planned is a person of a list, and what is wrong with the row.
type planned struct {
	Row         int
	Person      quiz.Person
	SiteName    string
	Login       string
	Faults      []string // "mail: …"
	Hint        string   // what may be meant otherwise, but is no fault
	RolesAsRead string
}

// plan is what an import would do.
type plan struct {
	People  []planned
	Faults  int      // rows with something wrong, or what is wrong with the whole
	Whole   []string // what is wrong with the list as a whole
	Unused  []string // columns that are not used
	NoMail  int
	NoLogin int
}

// OK tells whether the list can be imported.
func (p plan) OK() bool { return p.Faults == 0 && len(p.People) > 0 }

// plan reads the rows of a list, the first of them the names of the columns in
// whatever language, and says everything that is wrong with them.
func (p *Pages) plan(c *web.Context, rows []row) (plan, error) {
	ctx := c.Ctx()
	var out plan
	whole := func(id string, pairs ...any) {
		out.Whole = append(out.Whole, c.T(id, pairs...))
		out.Faults++
	}
	if len(rows) == 0 {
		whole("administrator.import.empty")
		return out, nil
	}
	at := map[string]int{} // column → where it stands
	known := p.inAnyLanguage(columns(), "administrator.column.")
	for i, cell := range rows[0].Cells {
		name, ok := known[plainWord(cell)]
		switch _, twice := at[name]; {
		case cell == "":
		case !ok:
			out.Unused = append(out.Unused, cell)
		case twice:
			whole("administrator.import.twice", "Column", cell)
		default:
			at[name] = i
		}
	}
	if _, ok := at["name"]; !ok {
		whole("administrator.import.noname", "Columns", strings.Join(columnNames(c.Words), ", "))
		return out, nil
	}
	if len(rows) == 1 {
		whole("administrator.import.empty")
		return out, nil
	}
	k, err := p.surroundings(ctx, c)
	if err != nil {
		return out, err
	}
	for _, r := range rows[1:] {
		x := k.person(c, r, at)
		if x.Login != "" {
			switch _, err := p.app.Store.Account(ctx, x.Login); quiz.ErrorCode(err) {
			case quiz.NotFound:
			case "":
				x.fault(c, "login", "administrator.person.login.taken")
			default:
				return out, err
			}
		} else {
			out.NoLogin++
		}
		if x.Person.Mail == "" && x.Login != "" {
			out.NoMail++
		}
		if len(x.Faults) > 0 {
			out.Faults++
		}
		out.People = append(out.People, x)
	}
	return out, nil
}

func (x *planned) fault(c *web.Context, column, id string, pairs ...any) {
	x.Faults = append(x.Faults, c.Words.Or("administrator.column."+column, column)+": "+c.T(id, pairs...))
}

// surroundings is what the rows of a list are compared with.
type surroundings struct {
	sites            map[string]quiz.Site
	siteNames        []string
	numbers, logins  map[string]int // → row of the list that has it
	there            map[string]string
	names            map[string]bool
	roles, languages map[string]string
	may              []quiz.Role
	locale           string
}

func (p *Pages) surroundings(ctx context.Context, c *web.Context) (*surroundings, error) {
	k := &surroundings{sites: map[string]quiz.Site{}, numbers: map[string]int{}, logins: map[string]int{}, there: map[string]string{}, names: map[string]bool{}, may: mayGive(c)}
	list, err := p.app.Store.Sites(ctx)
	if err != nil {
		return nil, err
	}
	for _, s := range list {
		k.sites[plainWord(s.Name)] = s
		k.siteNames = append(k.siteNames, s.Name)
	}
	people, err := p.app.Store.People(ctx)
	if err != nil {
		return nil, err
	}
	for _, x := range people {
		if x.Number != "" {
			k.there[x.Number] = x.Name
		}
		k.names[plainWord(x.Name)] = true
	}
	settings, err := p.app.Store.Settings(ctx)
	if err != nil {
		return nil, err
	}
	k.locale = settings.Locale
	var roles []string
	for _, r := range quiz.Roles() {
		roles = append(roles, string(r))
	}
	k.roles, k.languages = p.inAnyLanguage(roles, "role."), p.inAnyLanguage(words.Locales(), "language.")
	return k, nil
}

// person reads one row.
func (k *surroundings) person(c *web.Context, r row, at map[string]int) planned {
	x := planned{Row: r.Number}
	cell := func(column string) string {
		i, ok := at[column]
		if !ok || i >= len(r.Cells) {
			return ""
		}
		s := norm.NFC.String(r.Cells[i])
		switch {
		case utf8.RuneCountInString(s) > maxCell:
			x.fault(c, column, "fault.long", "Most", maxCell)
			return ""
		case strings.ContainsFunc(s, unicode.IsControl):
			x.fault(c, column, "fault.characters")
			return ""
		}
		return s
	}
	q := &x.Person
	if q.Name = cell("name"); q.Name == "" && len(x.Faults) == 0 {
		x.fault(c, "name", "fault.required")
	}
	if q.Number = cell("number"); q.Number != "" {
		if before, twice := k.numbers[q.Number]; twice {
			x.fault(c, "number", "administrator.import.row.twice", "Row", before)
		} else if name, taken := k.there[q.Number]; taken {
			x.fault(c, "number", "administrator.person.number.taken", "Name", name)
		}
		k.numbers[q.Number] = r.Number
	}
	if q.Mail = cell("mail"); q.Mail != "" {
		if (quiz.Person{Name: "x", Roles: []quiz.Role{quiz.Technician}, Mail: q.Mail}).Check() != nil {
			x.fault(c, "mail", "administrator.person.mail.wrong")
		}
	}
	if x.SiteName = cell("site"); x.SiteName != "" {
		s, ok := k.sites[plainWord(x.SiteName)]
		if !ok {
			x.fault(c, "site", "administrator.import.site", "Sites", strings.Join(k.siteNames, ", "))
		}
		q.Site = s.ID
	}
	x.RolesAsRead = cell("roles")
	for _, s := range strings.FieldsFunc(x.RolesAsRead, func(r rune) bool { return strings.ContainsRune(",;+&\n", r) }) {
		role, ok := k.roles[plainWord(s)]
		switch r := quiz.Role(role); {
		case plainWord(s) == "":
		case !ok:
			x.fault(c, "roles", "administrator.import.role", "Role", s, "Roles", "technician, coordinator, manager, administrator")
		case !slices.Contains(k.may, r):
			x.fault(c, "roles", "administrator.person.role.forbidden")
		case !slices.Contains(q.Roles, r):
			q.Roles = append(q.Roles, r)
		}
	}
	if x.RolesAsRead == "" {
		q.Roles = []quiz.Role{quiz.Technician}
	}
	if x.Login = quiz.FoldLogin(cell("login")); x.Login != "" {
		if before, twice := k.logins[x.Login]; twice {
			x.fault(c, "login", "administrator.import.row.twice", "Row", before)
		}
		k.logins[x.Login] = r.Number
	}
	q.Locale = k.locale
	if s := cell("language"); s != "" {
		locale, ok := k.languages[plainWord(s)]
		if !ok {
			x.fault(c, "language", "administrator.import.language", "Languages", strings.Join(words.Locales(), ", "))
		}
		q.Locale = locale
	}
	if k.names[plainWord(q.Name)] && q.Name != "" {
		x.Hint = c.T("administrator.import.namesake")
	}
	k.names[plainWord(q.Name)] = true
	return x
}

// plainWord is a word as it is compared: without regard to case, accents' make-up
// and space.
func plainWord(s string) string {
	return strings.Join(strings.Fields(cases.Fold().String(norm.NFKC.String(s))), " ")
}

// inAnyLanguage finds the names by what they are called in every language.
func (p *Pages) inAnyLanguage(names []string, prefix string) map[string]string {
	m := map[string]string{}
	for _, l := range words.Locales() {
		w := p.app.Words.Printer(l)
		for _, n := range names {
			if s := w.Or(prefix+n, ""); s != "" {
				if _, taken := m[plainWord(s)]; !taken {
					m[plainWord(s)] = n
				}
			}
		}
	}
	for _, n := range names {
		m[plainWord(n)] = n
	}
	return m
}
