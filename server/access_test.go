package server_test

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/demo"
	"rightpage/quiz/issuing"
	"rightpage/quiz/store"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

// accessTable is the access table as people review it: a line a route.
const accessTable = "testdata/access.txt"

// updateTable names the variable that has the test write the table anew, to be
// looked over before it is committed.
const updateTable = "RIGHTPAGE_UPDATE_ACCESS"

func tableOf(routes []web.Route) string {
	routes = slices.Clone(routes)
	slices.SortFunc(routes, func(a, b web.Route) int {
		return cmp.Or(strings.Compare(a.Path, b.Path), strings.Compare(a.Method, b.Method))
	})
	var b strings.Builder
	b.WriteString("# Who may use which route, and on whose records: own, those of the people of their site, or all.\n")
	b.WriteString("# \"public\" is without signing in; \"token\" is by a personal token instead of a session.\n")
	fmt.Fprintf(&b, "# %-6s %-62s %-10s %-11s %-7s %-13s\n", "method", "route", "technician", "coordinator", "manager", "administrator")
	for _, r := range routes {
		if r.Access.Public {
			fmt.Fprintf(&b, "  %-6s %-62s public", r.Method, r.Path)
		} else {
			fmt.Fprintf(&b, "  %-6s %-62s %-10s %-11s %-7s %-13s", r.Method, r.Path, r.Access.Technician, r.Access.Coordinator, r.Access.Manager, r.Access.Administrator)
		}
		if r.Owner != nil {
			b.WriteString(" whose record it is counts")
		}
		if r.Token {
			b.WriteString(" token")
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// records finds, for a parameter of a route, what a record of a person is called.
type records struct {
	s        *shop
	attempts map[string]string // person → ID
	at       map[string]string // attempt → assignment
	numbers  map[string]string
	scans    map[string]string
	values   map[string]string // parameters that are about nobody
}

func (s *shop) records() *records {
	ctx := context.Background()
	r := &records{s: s, attempts: map[string]string{}, at: map[string]string{}, numbers: map[string]string{}, scans: map[string]string{}, values: map[string]string{"n": "1", "format": "pdf", "kind": "json", "table": "questions", "hash": "x", "name": "x", "ref": "x"}}
	must := func(err error) {
		if err != nil {
			s.t.Fatal(err)
		}
	}
	assignments, err := s.store.Assignments(ctx)
	must(err)
	for _, a := range assignments {
		list, err := s.store.AttemptsAt(ctx, a.ID)
		must(err)
		for _, x := range list {
			if x.State == quiz.Graded {
				r.attempts[x.Person], r.at[x.ID] = x.ID, a.ID
				r.values["form"] = a.Form
			}
		}
	}
	// A quiz for everybody.
	quizzes := assignments[0]
	quizzes.ID, quizzes.Version, quizzes.Title, quizzes.Targets = "", 0, "For everybody", nil
	quizzes.Open, quizzes.Close, quizzes.Accommodations = s.clock.Now().AddDate(0, 0, -1), time.Time{}, nil
	for _, role := range quiz.Roles() {
		quizzes.Targets = append(quizzes.Targets, quiz.Target{Kind: quiz.ToRole, ID: string(role)})
	}
	must(s.store.SaveAssignment(ctx, "", &quizzes))
	r.values["assignment"] = quizzes.ID
	certificates, err := s.store.Certificates(ctx)
	must(err)
	for _, c := range certificates {
		r.numbers[c.PersonID] = c.Number
		r.values["code"] = c.Code
	}
	catalogs, err := s.store.Catalogs(ctx)
	must(err)
	r.values["catalog"], r.values["other"] = catalogs[0].ID, catalogs[1].ID
	requirements, err := s.store.Requirements(ctx, time.Time{})
	must(err)
	r.values["requirement"] = requirements[0].ID
	sites, err := s.store.Sites(ctx)
	must(err)
	r.values["site"] = sites[0].ID
	for _, state := range []quiz.DisputeState{quiz.DisputeOpen, quiz.DisputeAccepted, quiz.DisputeRejected} {
		disputes, err := s.store.Disputes(ctx, state)
		must(err)
		if len(disputes) > 0 && r.values["dispute"] == "" {
			r.values["dispute"] = disputes[0].ID
		}
	}
	return r
}

// scan keeps a page of a sheet that a person filled in.
func (r *records) scan(owner *quiz.Person) string {
	if r.scans[owner.ID] == "" {
		page := &store.ScanPage{Assignment: r.at[r.attempts[owner.ID]], Person: owner.ID, Page: 1, Reading: []byte("{}"), Image: []byte("\x89PNG\r\n\x1a\n"), State: "waiting"}
		if page.Assignment == "" {
			return ""
		}
		if err := r.s.store.AddScan(context.Background(), "", page); err != nil {
			r.s.t.Fatal(err)
		}
		r.scans[owner.ID] = page.ID
	}
	return r.scans[owner.ID]
}

// certify gives a person a certificate.
func (s *shop) certify(p *quiz.Person) string {
	s.t.Helper()
	day := s.clock.Now().Truncate(24 * time.Hour)
	c := &quiz.Certified{PersonID: p.ID, Certificate: certificate.Certificate{Person: p.Name, Organisation: demo.Organisation, Quiz: "Editions",
		Skills: []certificate.Skill{{Name: "editions", Level: issuing.LevelShown}}, CatalogTitle: "Tarnfell", CatalogRevision: "2026-1", Issued: day, Expires: day.AddDate(1, 0, 0)}}
	if err := s.store.IssueCertificate(context.Background(), "", "T", c); err != nil {
		s.t.Fatal(err)
	}
	return c.Number
}

// path fills the parameters of a route with what is the owner's; ok is false if
// the owner has no such record.
func (r *records) path(route web.Route, owner *quiz.Person) (path string, ok bool) {
	parts := strings.Split(route.Path, "/")
	for i, p := range parts {
		if !strings.HasPrefix(p, ":") {
			continue
		}
		var value string
		switch p {
		case ":person":
			value = owner.ID
		case ":attempt":
			value = r.attempts[owner.ID]
		case ":number":
			value = r.numbers[owner.ID]
		case ":assignment":
			value = r.values["assignment"]
			if strings.Contains(route.Path, ":attempt") || strings.Contains(route.Path, ":scan") {
				value = r.at[r.attempts[owner.ID]]
			}
		case ":scan":
			value = r.scan(owner)
		default:
			if value = r.values[p[1:]]; value == "" {
				value = "x"
			}
		}
		if value == "" {
			return "", false
		}
		parts[i] = value
	}
	return strings.Join(parts, "/"), true
}

// TestAccess makes every request with every role, on one's own record, on one of
// somebody at the same site, and on one of somebody elsewhere, and without
// signing in, and wants of each whether the access table lets it through.
func TestAccess(t *testing.T) {
	s := openShop(t)
	routes := s.server.Routes()
	got := tableOf(routes)
	if os.Getenv(updateTable) != "" {
		if err := os.WriteFile(accessTable, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(accessTable)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Fatalf("the routes are not as %s says. Look at each that changed, then set %s=1 and run the test again.\n%s", accessTable, updateTable, difference(string(want), got))
	}

	r := s.records()
	// Of the people with attempts, one each at a site, beside that one, and elsewhere.
	var own, colleague, elsewhere *quiz.Person
	var full []*quiz.Person
	for i := range s.people {
		p := &s.people[i]
		if r.attempts[p.ID] != "" && p.Has(quiz.Technician) && len(p.Roles) == 1 && p.Active(s.clock.Now()) {
			full = append(full, p)
		}
	}
	for _, p := range full {
		for _, q := range full {
			for _, x := range full {
				if p != q && p.Site == q.Site && p.Site != "" && x.Site != p.Site {
					own, colleague, elsewhere = p, q, x
				}
			}
		}
	}
	if own == nil {
		t.Fatal("the demonstration has too few people with attempts and certificates")
	}
	for _, p := range []*quiz.Person{own, colleague, elsewhere} {
		if r.numbers[p.ID] == "" {
			r.numbers[p.ID] = s.certify(p)
		}
	}
	hash, err := quiz.DefaultPasswords().Hash("a password of four words")
	if err != nil {
		t.Fatal(err)
	}
	visitors := map[quiz.Role]*quiz.Person{quiz.Technician: own}
	for _, role := range []quiz.Role{quiz.Coordinator, quiz.Manager, quiz.Administrator} {
		visitors[role] = s.add("Visitor "+string(role), own.Site, role)
		if err := s.store.SaveAccount(t.Context(), "", &quiz.Account{Person: visitors[role].ID, Login: "visitor-" + string(role), Hash: hash}); err != nil {
			t.Fatal(err)
		}
	}
	tokens := map[quiz.Role]string{}
	for role, p := range visitors {
		secret, err := s.store.AddToken(t.Context(), p.ID, &quiz.Token{Person: p.ID, Name: "test", Expires: s.clock.Now().AddDate(1, 0, 0)})
		if err != nil {
			t.Fatal(err)
		}
		tokens[role] = secret
	}
	requests := 0
	// ask gives the status of the answer, and whether it was the access that refused.
	ask := func(route web.Route, path string, visitor *quiz.Person, token string) (status int, refused bool) {
		t.Helper()
		requests++
		s.clock.Move(2 * time.Minute) // so that no limit of how often is met
		b := webtest.Visit(t, s.http)
		if visitor != nil && !route.Token {
			b = s.as(visitor)
		}
		req, err := http.NewRequest(route.Method, s.http.URL+path, strings.NewReader(""))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Sec-Fetch-Site", "same-origin")
		req.Header.Set("Accept", "application/json")
		req.Header.Set("X-Experience-API-Version", "2.0.0")
		if route.Token && token != "" {
			req.Header.Set("Authorization", "Bearer "+token)
		}
		a := b.Do(req)
		// An answer to HEAD has no words.
		refused = a.Status == http.StatusUnauthorized || route.Method == http.MethodHead && (a.Status == http.StatusForbidden || a.Status == http.StatusNotFound)
		for _, words := range []string{"your role does not cover", "no such record, or none that you may see"} {
			refused = refused || strings.Contains(a.Body, words)
		}
		if visitor != nil { // a request may have signed them out, or worse
			p, err := s.store.Person(t.Context(), visitor.ID)
			if err == nil && !p.Left.IsZero() && p.Erased.IsZero() {
				p.Left = time.Time{}
				err = s.store.SavePerson(t.Context(), "", &p)
				for role, x := range visitors {
					if x.ID == p.ID && err == nil { // whoever leaves loses the token
						tokens[role], err = s.store.AddToken(t.Context(), p.ID, &quiz.Token{Person: p.ID, Name: "again", Expires: s.clock.Now().AddDate(1, 0, 0)})
					}
				}
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		return a.Status, refused
	}
	for _, route := range routes {
		if route.Access.Public {
			continue // that there is something to see is for the tests of the pages
		}
		path, _ := r.path(route, own)
		if status, refused := ask(route, path, nil, ""); !refused {
			t.Errorf("%s %s without signing in: status %d", route.Method, route.Path, status)
		}
		for _, role := range quiz.Roles() {
			visitor := visitors[role]
			scope := route.Access.Of(role)
			type try struct {
				whose string
				owner *quiz.Person
				want  bool
			}
			tries := []try{{"", own, scope != web.Nobody}}
			if route.Owner != nil {
				tries = []try{{"a colleague's", colleague, scope >= web.Site}, {"somebody's elsewhere", elsewhere, scope == web.All}}
				if _, ok := r.path(route, visitor); ok {
					tries = append(tries, try{"their own", visitor, scope >= web.Own})
				}
			}
			for _, x := range tries {
				path, ok := r.path(route, x.owner)
				if !ok {
					t.Fatalf("%s: there is no record of %s", route.Path, x.owner.Name)
				}
				status, refused := ask(route, path, visitor, tokens[role])
				if refused == x.want {
					t.Errorf("%s %s %s by the %s: status %d, want it %s", route.Method, route.Path, x.whose, role, status, map[bool]string{true: "let through", false: "refused"}[x.want])
				}
				// Whoever may look finds something to look at, or is told that it is not
				// the time for it, or what to say first.
				if x.want && route.Method == http.MethodGet && status >= http.StatusBadRequest && status != http.StatusConflict && status != http.StatusUnprocessableEntity && !unmade(route) {
					t.Errorf("%s %s %s by the %s: status %d", route.Method, route.Path, x.whose, role, status)
				}
				if status >= http.StatusInternalServerError {
					t.Errorf("%s %s %s by the %s: status %d", route.Method, route.Path, x.whose, role, status)
				}
			}
		}
	}
	t.Logf("%d routes, %d requests", len(routes), requests)
}

// unmade tells of routes whose records the test only makes as far as whose they
// are: exercises, the crops of a page that was not scanned, the files of a
// certificate that nobody earned.
func unmade(r web.Route) bool {
	return strings.Contains(r.Path, ":ref") || strings.Contains(r.Path, "/crop/") || strings.Contains(r.Path, "/files/")
}

// difference lists the lines that only one of two texts has.
func difference(a, b string) string {
	var out strings.Builder
	in := func(list []string, s string) bool { return slices.Contains(list, s) }
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for _, l := range x {
		if !in(y, l) {
			fmt.Fprintln(&out, "- "+l)
		}
	}
	for _, l := range y {
		if !in(x, l) {
			fmt.Fprintln(&out, "+ "+l)
		}
	}
	return out.String()
}
