package api_test

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"

	"rightpage/server/web"
)

func TestDocumentIsValidAndHoldsEveryRoute(t *testing.T) {
	x := open(t)
	raw := x.raw("", "/api/v1/openapi.json")
	doc, err := libopenapi.NewDocument([]byte(raw.Body))
	must(t, err)
	v, errs := validator.NewValidator(doc)
	if len(errs) > 0 {
		t.Fatal(errs)
	}
	// Against the schema of OpenAPI 3.1 by its authors, which the library holds.
	if ok, errs := v.ValidateDocument(); !ok {
		for _, e := range errs {
			t.Errorf("%s: %s", e.Message, e.Reason)
			for _, s := range e.SchemaValidationErrors {
				t.Errorf("  %s: %s", s.FieldPath, s.Reason)
			}
		}
	}
	if got := doc.GetVersion(); got != "3.1.0" {
		t.Errorf("version %s", got)
	}
	model, err := doc.BuildV3Model()
	must(t, err)
	served := map[string]bool{}
	for _, r := range x.pages.Routes() {
		if strings.HasSuffix(r.Path, "*") {
			continue // what is at no address
		}
		parts := strings.Split(r.Path, "/")
		for i, s := range parts {
			if name, ok := strings.CutPrefix(s, ":"); ok {
				parts[i] = "{" + name + "}"
			}
		}
		served[r.Method+" "+strings.Join(parts, "/")] = true
		if !r.Token || r.Rate == nil {
			t.Errorf("%s %s: takes no token, or has no limit", r.Method, r.Path)
		}
	}
	described := map[string]bool{}
	ids := map[string]bool{}
	for path, item := range model.Model.Paths.PathItems.FromOldest() {
		for method, op := range item.GetOperations().FromOldest() {
			described[strings.ToUpper(method)+" "+path] = true
			if ids[op.OperationId] {
				t.Errorf("two operations %s", op.OperationId)
			}
			ids[op.OperationId] = true
		}
	}
	for r := range served {
		if !described[r] {
			t.Errorf("%s is served, and not in the document", r)
		}
	}
	for r := range described {
		if !served[r] {
			t.Errorf("%s is in the document, and not served", r)
		}
	}
}

// The table of who sees what: status, and how many records.
func TestWhoSeesWhat(t *testing.T) {
	x := open(t).validate()
	tech, elsewhere := x.people["technician"].ID, x.people["elsewhere"].ID
	for _, c := range []struct {
		path string
		want string // technician, colleague, elsewhere, manager, coordinator, administrator; a number of records, or a status
	}{
		{"/people", "1 1 1 3 6 6"},
		{"/people/" + tech, "200 404 404 200 200 200"},
		{"/people/" + elsewhere, "404 404 200 404 200 200"},
		{"/people/nobody", "404 404 404 404 404 404"},
		{"/people/" + tech + "/progress", "200 404 404 200 200 403"},
		{"/people/" + tech + "/attempts", "2 404 404 2 2 403"},
		{"/sites", "2 2 2 2 2 2"},
		{"/assignments", "2 2 1 2 3 403"},
		{"/assignments/" + x.held.ID, "200 200 404 200 200 403"},
		{"/assignments/" + x.released.ID + "/attempts", "1 1 404 2 2 403"},
		{"/attempts/" + x.first.ID, "200 404 404 200 200 403"},
		{"/attempts/none", "404 404 404 404 404 403"},
		{"/requirements", "1 1 1 1 1 403"},
		{"/requirements/" + x.requirement.ID + "/readiness", "1 1 1 2 3 403"},
		{"/requirements/none/readiness", "404 404 404 404 404 403"},
		{"/certificates", "1 0 1 1 2 403"},
		{"/certificates/" + x.number, "200 404 404 200 200 403"},
		{"/catalogs", "1 1 1 1 1 1"},
	} {
		want := strings.Fields(c.want)
		for i, who := range []string{"technician", "colleague", "elsewhere", "manager", "coordinator", "administrator"} {
			a := x.ask(who, "/api/v1"+c.path)
			got := itoa(a.Status)
			if a.Status == http.StatusOK && len(want[i]) < 3 {
				var p struct{ Data []any }
				a.JSON(t, &p)
				got = itoa(len(p.Data))
			}
			if got != want[i] {
				t.Errorf("%s asks for %s: %s, want %s\n%s", who, c.path, got, want[i], a.Body)
			}
		}
	}
	for _, r := range x.pages.Routes() {
		if strings.HasSuffix(r.Path, "*") || r.Access.Public || r.Method != http.MethodGet {
			continue
		}
		for name, value := range map[string]string{"nothing": "", "a wrong token": "Bearer rightpage_WRONG", "a password": "Basic YTpi"} {
			a := x.raw("", r.Path, "Authorization", value)
			if a.Status != http.StatusUnauthorized || a.Header.Get("WWW-Authenticate") == "" {
				t.Errorf("%s with %s: %d", r.Path, name, a.Status)
			}
		}
	}
}

func itoa(n int) string {
	if n >= 100 {
		return string([]byte{byte('0' + n/100), byte('0' + n/10%10), byte('0' + n%10)})
	}
	return string(rune('0' + n))
}

func TestResultsAsTheyAreReleased(t *testing.T) {
	x := open(t).validate()
	type answer struct {
		Position int
		Verdict  string
		Points   float64
		Slip     string
		Step     string
	}
	var got struct {
		State  string
		Result *struct {
			Points, Of, Low, High float64
			TooFew                bool `json:"too_few"`
		}
		Answers []answer
	}
	x.ask("technician", "/api/v1/attempts/"+x.first.ID).JSON(t, &got)
	want := []answer{{Position: 1, Verdict: "right", Points: 1}, {Position: 2, Verdict: "wrong"}, {Position: 3, Verdict: "blank"}, {Position: 4, Verdict: "right", Points: 1}}
	if got.State != "graded" || got.Result == nil || got.Result.Points != 2 || got.Result.Of != 4 || len(got.Answers) != 4 || !got.Result.TooFew || got.Result.Low > 0.2 || got.Result.High < 0.8 {
		t.Fatalf("%+v", got)
	}
	for i, w := range want {
		g := got.Answers[i]
		if (g.Verdict == "wrong") != (g.Slip != "" && g.Step != "") {
			t.Errorf("answer %d: slip %q at step %q", i+1, g.Slip, g.Step)
		}
		if g.Slip, g.Step = "", ""; g != w {
			t.Errorf("answer %d: %+v, want %+v", i+1, g, w)
		}
	}
	got.Result, got.Answers = nil, nil
	x.ask("technician", "/api/v1/attempts/"+x.held1.ID).JSON(t, &got)
	if got.Result != nil || got.Answers != nil {
		t.Errorf("a technician is told what is not released: %+v", got)
	}
	x.ask("manager", "/api/v1/attempts/"+x.held1.ID).JSON(t, &got)
	if got.Result == nil || len(got.Answers) != 4 {
		t.Errorf("a manager is not told what is graded: %+v", got)
	}
}

// Neither keys nor answers, questions nor their IDs, nor mail addresses are in
// anything that is answered.
func TestNothingThatMustStayInside(t *testing.T) {
	x := open(t)
	secrets := []string{"edition 2", "edition 1", "the key", "answer as given", "which edition", "@wexcombe", "argon2"}
	secrets = append(secrets, x.first.Questions...)
	for _, secret := range x.tokens {
		secrets = append(secrets, secret)
	}
	paths := []string{"/people/" + x.people["technician"].ID + "/progress", "/attempts/" + x.first.ID, "/people/" + x.people["technician"].ID,
		"/requirements/" + x.requirement.ID + "/readiness", "/certificates/" + x.number, "/assignments/" + x.released.ID + "/attempts", "/statements?account=number", "/statements"}
	for _, r := range x.pages.Routes() {
		if r.Method == http.MethodGet && !strings.ContainsAny(r.Path, ":*") {
			paths = append(paths, strings.TrimPrefix(r.Path, "/api/v1"))
		}
	}
	for _, path := range paths {
		a := x.raw("coordinator", "/api/v1"+path)
		if a.Status != http.StatusOK || len(a.Body) < 50 {
			t.Errorf("%s: %d %s", path, a.Status, a.Body)
		}
		for _, s := range secrets {
			if strings.Contains(a.Body, s) {
				t.Errorf("%s tells %q", path, s)
			}
		}
	}
}

func TestProgressHasItsUncertainty(t *testing.T) {
	x := open(t).validate()
	var got struct {
		Share  struct{ Answers, Right int }
		Skills []struct {
			Skill string
			Share struct {
				Answers   int
				Low, High float64
			}
			Level, Says string
			Known       *float64
		}
	}
	x.ask("technician", "/api/v1/people/"+x.people["technician"].ID+"/progress").JSON(t, &got)
	if got.Share.Answers != 7 || got.Share.Right != 5 {
		t.Errorf("of what is released: %+v", got.Share)
	}
	x.ask("manager", "/api/v1/people/"+x.people["technician"].ID+"/progress").JSON(t, &got)
	if got.Share.Answers != 11 || got.Share.Right != 6 {
		t.Errorf("of all answers: %+v", got.Share)
	}
	var ready struct {
		Data []struct {
			Person string
			Skills []struct{ Answers int }
		}
	}
	for who, want := range map[string]int{"technician": 7, "manager": 11} {
		x.ask(who, "/api/v1/requirements/"+x.requirement.ID+"/readiness").JSON(t, &ready)
		i := slices.IndexFunc(ready.Data, func(r struct {
			Person string
			Skills []struct{ Answers int }
		}) bool {
			return r.Person == x.people["technician"].ID
		})
		if i < 0 || len(ready.Data[i].Skills) != 1 || ready.Data[i].Skills[0].Answers != want {
			t.Errorf("readiness as the %s reads it: %+v, want %d answers", who, ready.Data, want)
		}
	}
	at := slices.IndexFunc(got.Skills, func(s struct {
		Skill string
		Share struct {
			Answers   int
			Low, High float64
		}
		Level, Says string
		Known       *float64
	}) bool {
		return s.Share.Answers > 0
	})
	if at < 0 {
		t.Fatal("no skill was practised")
	}
	s := got.Skills[at]
	if s.Share.Answers != 11 || s.Share.Low <= 0.2 || s.Share.High >= 0.85 || s.Says == "" || s.Known == nil == (s.Level != "too few to tell") {
		t.Errorf("%+v", s)
	}
}

func TestPagesOfAList(t *testing.T) {
	x := open(t).validate()
	all, next := x.list("coordinator", "/api/v1/people")
	if len(all) != 6 || next != "" {
		t.Fatalf("%d people, then %q", len(all), next)
	}
	seen := []string{}
	for path := "/api/v1/people?limit=4&role=technician"; path != ""; {
		var part []map[string]any
		part, path = x.list("coordinator", path)
		for _, p := range part {
			seen = append(seen, p["id"].(string))
		}
		if len(seen) == 1 {
			// Somebody comes in between: nobody is told twice or left out.
			webtestPerson(x, "Newcomer")
		}
	}
	if len(seen) != 3 || !slices.IsSorted(seen) {
		t.Errorf("page by page: %v", seen)
	}
	seen = nil
	added := false
	for path := "/api/v1/people?limit=1"; path != ""; {
		var part []map[string]any
		part, path = x.list("coordinator", path)
		seen = append(seen, part[0]["id"].(string))
		if !added {
			added = true
			webtestPerson(x, "Newcomer")
		}
	}
	for _, p := range all {
		if n := len(slices.DeleteFunc(slices.Clone(seen), func(id string) bool { return id != p["id"] })); n != 1 {
			t.Errorf("%v was told %d times", p["name"], n)
		}
	}
	if a := x.raw("coordinator", "/api/v1/people?limit=2"); !strings.Contains(a.Header.Get("Link"), `rel="next"`) {
		t.Errorf("Link: %q", a.Header.Get("Link"))
	}
	for _, query := range []string{"limit=0", "limit=501", "limit=x", "cursor=*", "role=boss", "left=maybe", "sites=north"} {
		if a := x.ask("coordinator", "/api/v1/people?"+query); a.Status != http.StatusBadRequest {
			t.Errorf("%s: %d", query, a.Status)
		}
	}
}

func webtestPerson(x *shop, name string) {
	p := *x.people["technician"]
	p.ID, p.Name, p.Number, p.Version, p.Roles = "", name, "", 0, nil
	p.Roles = append(p.Roles, "manager")
	must(x.t, x.app.Store.SavePerson(x.t.Context(), "", &p))
}

func TestUnchangedAnswersAreNotSentAgain(t *testing.T) {
	x := open(t).validate()
	first := x.ask("manager", "/api/v1/people")
	tag := first.Header.Get("ETag")
	for _, have := range []string{tag, strings.TrimPrefix(tag, "W/"), `"other", ` + tag, "*"} {
		if a := x.ask("manager", "/api/v1/people", "If-None-Match", have); a.Status != http.StatusNotModified || a.Body != "" || a.Header.Get("ETag") != tag {
			t.Errorf("with %s: %d %q", have, a.Status, a.Body)
		}
	}
	webtestPerson(x, "Newcomer")
	if a := x.ask("manager", "/api/v1/people", "If-None-Match", tag); a.Status != http.StatusOK || a.Header.Get("ETag") == tag {
		t.Errorf("changed: %d", a.Status)
	}
	if cc := first.Header.Get("Cache-Control"); cc != "private, no-cache" || !strings.Contains(strings.Join(first.Header.Values("Vary"), ","), "Authorization") {
		t.Errorf("Cache-Control %q, Vary %q", cc, first.Header.Values("Vary"))
	}
}

// RFC 9457, 3.1: type, title, status, detail; the media type of section 3.
func TestProblems(t *testing.T) {
	x := open(t).validate()
	b := func(method, path string, who string) (int, string, http.Header) {
		req := x.request(who, path)
		req.Method = method
		res, err := http.DefaultClient.Do(req)
		must(t, err)
		defer res.Body.Close()
		var p web.Problem
		if method != http.MethodHead {
			must(t, decode(res, &p))
			if p.Type != "about:blank" || p.Status != res.StatusCode || p.Title != http.StatusText(res.StatusCode) || p.Detail == "" || p.Code == "" {
				t.Errorf("%s %s: %+v", method, path, p)
			}
			if ct := res.Header.Get("Content-Type"); ct != "application/problem+json" {
				t.Errorf("%s %s: %s", method, path, ct)
			}
		}
		return res.StatusCode, string(p.Code), res.Header
	}
	for _, c := range []struct {
		method, path, who string
		want              int
	}{
		{"GET", "/api/v1/people", "", 401}, {"GET", "/api/v1/assignments", "administrator", 403}, {"GET", "/api/v1/people/nobody", "manager", 404},
		{"GET", "/api/v1/nothing", "", 404}, {"GET", "/api/v1/people?x=1", "manager", 400}, {"POST", "/api/v1/people", "manager", 405},
		{"DELETE", "/api/v1/people/x", "manager", 405}, {"HEAD", "/api/v1/people", "", 401},
	} {
		if got, _, _ := b(c.method, c.path, c.who); got != c.want {
			t.Errorf("%s %s of %s: %d, want %d", c.method, c.path, c.who, got, c.want)
		}
	}
	if status, _, h := b("PUT", "/api/v1/sites", "manager"); status != 405 || h.Get("Allow") != "GET, HEAD" {
		t.Errorf("PUT: %d, Allow %q", status, h.Get("Allow"))
	}
}

func TestHeadGivesTheHeaders(t *testing.T) {
	x := open(t)
	get := x.raw("manager", "/api/v1/people")
	req := x.request("manager", "/api/v1/people")
	req.Method = http.MethodHead
	head := webtestDo(x, req)
	if head.StatusCode != http.StatusOK || head.Header.Get("ETag") != get.Header.Get("ETag") {
		t.Errorf("%d, ETag %q, want %q", head.StatusCode, head.Header.Get("ETag"), get.Header.Get("ETag"))
	}
}

func webtestDo(x *shop, req *http.Request) *http.Response {
	res, err := http.DefaultClient.Do(req)
	must(x.t, err)
	res.Body.Close()
	return res
}

func TestTooManyRequests(t *testing.T) {
	x := open(t).validate()
	var last int
	for n := 1; n <= 125; n++ { // the clock stands still
		a := x.raw("manager", "/api/v1/sites")
		if last = a.Status; last != http.StatusOK {
			if n != 121 || last != http.StatusTooManyRequests || a.Header.Get("Retry-After") != "1" {
				t.Errorf("request %d: %d, Retry-After %q", n, last, a.Header.Get("Retry-After"))
			}
			break
		}
	}
	if last != http.StatusTooManyRequests {
		t.Error("there is no limit")
	}
	if a := x.ask("technician", "/api/v1/sites"); a.Status != http.StatusOK {
		t.Errorf("somebody else: %d", a.Status)
	}
	x.clock.Move(time.Second)
	if a := x.ask("manager", "/api/v1/sites"); a.Status != http.StatusOK {
		t.Errorf("after a second: %d", a.Status)
	}
}

func TestWhoLeftIsNotListedAndReadsNothing(t *testing.T) {
	x := open(t).validate()
	p := x.people["colleague"]
	p.Left = x.clock.Now()
	must(t, x.app.Store.SavePerson(t.Context(), "", p))
	if a := x.ask("colleague", "/api/v1/people"); a.Status != http.StatusUnauthorized {
		t.Errorf("who left reads: %d", a.Status)
	}
	if all, _ := x.list("coordinator", "/api/v1/people"); len(all) != 5 {
		t.Errorf("%d people", len(all))
	}
	if all, _ := x.list("coordinator", "/api/v1/people?left=true&number=S-colleague"); len(all) != 1 || all[0]["left"] != p.Left.Format(time.RFC3339) {
		t.Errorf("who left: %v", all)
	}
	if all, _ := x.list("coordinator", "/api/v1/certificates?standing=revoked"); len(all) != 1 {
		t.Errorf("revoked: %v", all)
	}
}

func decode(res *http.Response, v any) error { return json.NewDecoder(res.Body).Decode(v) }

// The check of answers against the document can fail.
func TestTheDocumentRefusesOtherAnswers(t *testing.T) {
	x := open(t).validate()
	for name, body := range map[string]string{
		"a member missing": `{"data":[{"id":"1","name":"North"}]}`, "a member too many": `{"data":[{"id":"1","name":"North","zone":"UTC","mail":"x"}]}`,
		"another type": `{"data":[{"id":1,"name":"North","zone":"UTC"}]}`, "no list": `{}`,
	} {
		req := x.request("manager", "/api/v1/sites")
		ok, _ := x.doc.GetResponseBodyValidator().ValidateResponseBody(req, &http.Response{StatusCode: 200, Header: http.Header{"Content-Type": {"application/json"}},
			Body: readCloser{strings.NewReader(body)}, Request: req})
		if ok {
			t.Errorf("%s is let through", name)
		}
	}
}
