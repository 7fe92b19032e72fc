package api_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rightpage/grading"
	"rightpage/quiz"
)

// The rules of a statement. The numbers are those of the sections of the xAPI
// specification 1.0.3, part two (2.x, 4.x) and part three (1.x, 2.x), whose rules
// IEEE 9274.1.1-2023 keeps unless it is said; where it differs, "2.0" stands
// before it. From memory: neither text was at hand.
var (
	uuidForm = regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-[1-5][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`) // 4.4: RFC 4122, canonical
	timeForm = regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z$`)                                 // 4.5: ISO 8601; 2.0: in UTC
	longForm = regexp.MustCompile(`^PT(\d+H)?(\d+M)?(\d+(\.\d{1,2})?S)?$`)                                     // 4.6: ISO 8601, compared to 0.01 s
	langForm = regexp.MustCompile(`^[a-z]{2,3}(-[A-Z]{2})?$`)                                                  // 4.2: RFC 5646
)

func checkStatement(t *testing.T, s map[string]any) {
	t.Helper()
	wrong := func(section, format string, args ...any) {
		t.Helper()
		text, _ := json.Marshal(s)
		t.Errorf("%s: %s in %s", section, fmt.Sprintf(format, args...), text)
	}
	only := func(section string, o map[string]any, names ...string) {
		t.Helper()
		for k, v := range o {
			if !slices.Contains(names, k) {
				wrong(section, "unknown member %s", k)
			}
			if v == nil { // 2.2: no null, but in extensions
				wrong("2.2", "%s is null", k)
			}
		}
	}
	iri := func(section string, v any) {
		t.Helper()
		if u, err := url.Parse(fmt.Sprint(v)); err != nil || u.Scheme == "" || u.Host == "" { // 4.3: absolute
			wrong(section, "%v is no IRI", v)
		}
	}
	words := func(section string, v any) {
		t.Helper()
		m, ok := v.(map[string]any)
		if !ok || len(m) == 0 {
			wrong(section, "no language map")
		}
		for k := range m {
			if !langForm.MatchString(k) {
				wrong("4.2", "%s is no language", k)
			}
		}
	}
	extensions := func(v any) {
		t.Helper()
		if v == nil {
			return
		}
		for k := range v.(map[string]any) { // 4.1: keys are IRIs
			iri("4.1", k)
			if !strings.HasPrefix(k, home+"/xapi/extensions/") {
				wrong("4.1", "%s is another's", k)
			}
		}
	}
	agent := func(v any) {
		t.Helper()
		a, _ := v.(map[string]any)
		only("2.4.2.1", a, "objectType", "account") // one inverse functional identifier, and here no name
		account, _ := a["account"].(map[string]any)
		only("2.4.2.4", account, "homePage", "name")
		if a["objectType"] != "Agent" || account["homePage"] != home || account["name"] == "" || strings.Contains(fmt.Sprint(account["name"]), "@") {
			wrong("2.4.2.4", "the account is %v", account)
		}
	}
	activity := func(v any) {
		t.Helper()
		o, _ := v.(map[string]any)
		only("2.4.4.1", o, "objectType", "id", "definition")
		iri("2.4.4.1", o["id"])
		if o["objectType"] != "Activity" {
			wrong("2.4.4.1", "type %v", o["objectType"])
		}
		if d, ok := o["definition"].(map[string]any); ok {
			only("2.4.4.1", d, "type", "name", "extensions")
			iri("2.4.4.1", d["type"])
			words("2.4.4.1", d["name"])
			extensions(d["extensions"])
		}
	}
	only("2.4", s, "id", "actor", "verb", "object", "result", "context", "timestamp", "stored", "authority", "version")
	for _, need := range []string{"id", "actor", "verb", "object", "timestamp", "stored", "authority", "version"} {
		if s[need] == nil {
			wrong("2.4", "no %s", need)
		}
	}
	if !uuidForm.MatchString(fmt.Sprint(s["id"])) {
		wrong("2.4.1", "id %v", s["id"])
	}
	agent(s["actor"])
	agent(s["authority"])                                  // 2.4.9
	for _, when := range []string{"timestamp", "stored"} { // 2.4.7, 2.4.8
		if !timeForm.MatchString(fmt.Sprint(s[when])) {
			wrong("4.5", "%s %v", when, s[when])
		}
	}
	if s["version"] != "2.0.0" { // 2.0
		wrong("2.4.10", "version %v", s["version"])
	}
	verb := s["verb"].(map[string]any)
	only("2.4.3", verb, "id", "display")
	iri("2.4.3", verb["id"])
	words("2.4.3", verb["display"])
	object := s["object"].(map[string]any)
	if verb["id"] == "http://adlnet.gov/expapi/verbs/voided" { // 2.3.2
		only("2.4.4.3", object, "objectType", "id")
		if object["objectType"] != "StatementRef" || !uuidForm.MatchString(fmt.Sprint(object["id"])) {
			wrong("2.3.2", "it voids %v", object)
		}
		return
	}
	activity(object)
	if c, ok := s["context"].(map[string]any); ok {
		only("2.4.6", c, "registration", "contextActivities", "platform")
		if r := c["registration"]; r != nil && !uuidForm.MatchString(r.(string)) {
			wrong("2.4.6.1", "registration %v", r)
		}
		if around, ok := c["contextActivities"].(map[string]any); ok {
			only("2.4.6.2", around, "parent")
			for _, a := range around["parent"].([]any) {
				activity(a)
			}
		}
	}
	result := s["result"].(map[string]any)
	only("2.4.5", result, "score", "success", "completion", "duration", "extensions")
	extensions(result["extensions"])
	if d := result["duration"]; d != nil && (!longForm.MatchString(d.(string)) || d == "PT") {
		wrong("4.6", "duration %v", d)
	}
	if v, ok := result["score"].(map[string]any); ok { // 2.4.5.1
		only("2.4.5.1", v, "scaled", "raw", "min", "max")
		scaled, raw, low, high := v["scaled"].(float64), v["raw"].(float64), v["min"].(float64), v["max"].(float64)
		if scaled < -1 || scaled > 1 || raw < low || raw > high || low >= high || math.Abs(scaled-raw/high) > 1e-6 {
			wrong("2.4.5.1", "score %v", v)
		}
	}
}

func verbOf(s map[string]any) string {
	return strings.TrimPrefix(s["verb"].(map[string]any)["id"].(string), "http://adlnet.gov/expapi/verbs/")
}

func count(list []map[string]any) map[string]int {
	n := map[string]int{}
	for _, s := range list {
		n[verbOf(s)]++
	}
	return n
}

func TestStatementsKeepToTheStandard(t *testing.T) {
	x := open(t).validate()
	all := x.statements("coordinator", "")
	// Four people's attempts: 3 + 4 + 4 + 4 answers, one question was left blank;
	// three exercises; four attempts, of which two passed.
	if got, want := fmt.Sprint(count(all)), "map[answered:18 completed:4 failed:2 passed:2]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	ids := map[string]bool{}
	for i, s := range all {
		checkStatement(t, s)
		if ids[s["id"].(string)] {
			t.Errorf("2.4.1: %v is told twice", s["id"])
		}
		ids[s["id"].(string)] = true
		if i > 0 && at(t, all[i-1], "stored").Before(at(t, s, "stored")) {
			t.Error("2.1.3: not by when they were stored, the last first")
		}
	}
	again := x.statements("coordinator", "")
	if fmt.Sprint(again) != fmt.Sprint(all) {
		t.Error("2.3.1: the same statements are told otherwise the second time")
	}
}

func at(t *testing.T, s map[string]any, member string) time.Time {
	t.Helper()
	when, err := time.Parse(time.RFC3339Nano, s[member].(string))
	must(t, err)
	return when
}

func TestWhatStatementsSay(t *testing.T) {
	x := open(t).validate()
	tech := x.people["technician"].ID
	agent := url.QueryEscape(`{"objectType":"Agent","account":{"homePage":"` + home + `","name":"` + tech + `"}}`)
	of := x.statements("manager", "?ascending=true&agent="+agent)
	var told []string
	for _, s := range of {
		r := s["result"].(map[string]any)
		score := r["score"].(map[string]any)
		parent := ""
		if c := s["context"].(map[string]any)["contextActivities"]; c != nil {
			parent = c.(map[string]any)["parent"].([]any)[0].(map[string]any)["id"].(string)
		}
		told = append(told, fmt.Sprintf("%s %v of %v, %v, %v, slip %v, in %s", verbOf(s), score["raw"], score["max"], r["success"], r["duration"],
			r["extensions"] != nil && r["extensions"].(map[string]any)[home+"/xapi/extensions/slip"] != nil, strings.TrimPrefix(parent, home+"/xapi/")))
	}
	slices.Sort(told)
	a, b := "assignments/"+x.released.ID, "assignments/"+x.held.ID
	want := []string{
		"answered 0 of 1, false, PT12.34S, slip true, in " + a,
		"answered 1 of 1, true, PT12.34S, slip false, in " + a,
		"answered 1 of 1, true, PT12.34S, slip false, in " + a,
		"answered 0 of 1, false, PT12.34S, slip true, in " + b,
		"answered 0 of 1, false, PT12.34S, slip true, in " + b,
		"answered 0 of 1, false, PT12.34S, slip true, in " + b,
		"answered 1 of 1, true, PT12.34S, slip false, in " + b,
		"answered 1 of 1, true, PT1H1M1.5S, slip false, in practice",
		"answered 1 of 1, true, PT1H1M1.5S, slip false, in practice",
		"answered 1 of 1, true, PT1H1M1.5S, slip false, in practice",
		"completed 2 of 4, true, PT2M, slip false, in ",
		"completed 1 of 4, false, PT2M, slip false, in ",
		"passed 2 of 4, true, PT2M, slip false, in ",
		"failed 1 of 4, false, PT2M, slip false, in ",
	}
	slices.Sort(want)
	if !slices.Equal(told, want) {
		t.Errorf("told:\n%s\nwant:\n%s", strings.Join(told, "\n"), strings.Join(want, "\n"))
	}
	// The staff number stands for the person if that is asked for.
	number := url.QueryEscape(`{"account":{"homePage":"` + home + `","name":"S-technician"}}`)
	if got := x.statements("manager", "?account=number&agent="+number); len(got) != len(of) {
		t.Errorf("by staff number: %d, want %d", len(got), len(of))
	}
}

// Part three, 2.1.3: the parameters.
func TestQueriesForStatements(t *testing.T) {
	x := open(t).validate()
	all := x.statements("coordinator", "")
	n := func(query string) int { t.Helper(); return len(x.statements("coordinator", query)) }
	if got := n("?verb=" + url.QueryEscape("http://adlnet.gov/expapi/verbs/passed")); got != 2 {
		t.Errorf("by verb: %d", got)
	}
	activity := url.QueryEscape(home + "/xapi/assignments/" + x.released.ID)
	if got := n("?activity=" + activity); got != 4 {
		t.Errorf("by activity: %d", got)
	}
	if got := n("?related_activities=true&activity=" + activity); got != 4+3+4 {
		t.Errorf("by activity and what is part of it: %d", got)
	}
	passed := x.statements("coordinator", "?verb="+url.QueryEscape("http://adlnet.gov/expapi/verbs/failed"))[0]
	if got := n("?registration=" + passed["context"].(map[string]any)["registration"].(string)); got != 4+2 {
		t.Errorf("by registration: %d", got)
	}
	// since is exclusive, until inclusive: together they part what there is.
	middle := url.QueryEscape(all[len(all)/2]["stored"].(string))
	since, until := x.statements("coordinator", "?since="+middle), x.statements("coordinator", "?until="+middle)
	if len(since)+len(until) != len(all) || len(since) == 0 || at(t, until[0], "stored") != at(t, all[len(all)/2], "stored") {
		t.Errorf("since %d and until %d of %d", len(since), len(until), len(all))
	}
	// Page by page, in both directions, the same as at once.
	for _, query := range []string{"?", "?ascending=true&"} {
		whole, parts := x.statements("coordinator", strings.TrimSuffix(query, "&")), x.statements("coordinator", query+"limit=4")
		if fmt.Sprint(whole) != fmt.Sprint(parts) {
			t.Errorf("%s: page by page it is something else", query)
		}
	}
	var first struct {
		Statements []any
		More       string
	}
	x.ask("coordinator", "/api/v1/statements?limit=4").JSON(t, &first)
	if len(first.Statements) != 4 || !strings.HasPrefix(first.More, "/api/v1/statements?") {
		t.Errorf("%d statements, more %q", len(first.Statements), first.More)
	}
	if got := n("?limit=0"); got != len(all) {
		t.Errorf("limit 0: %d", got)
	}
	// One by its ID; another's is not found.
	one := x.ask("coordinator", "/api/v1/statements?statementId="+all[3]["id"].(string))
	var s map[string]any
	one.JSON(t, &s)
	if one.Status != 200 || fmt.Sprint(s) != fmt.Sprint(all[3]) || one.Header.Get("Last-Modified") == "" {
		t.Errorf("by ID: %d %v", one.Status, s)
	}
	if a := x.ask("elsewhere", "/api/v1/statements?statementId="+all[len(all)-1]["id"].(string)); a.Status != http.StatusNotFound {
		t.Errorf("another's: %d", a.Status)
	}
	var ids struct{ Statements []map[string]any }
	x.ask("coordinator", "/api/v1/statements?format=ids").JSON(t, &ids)
	for _, s := range ids.Statements {
		if s["object"].(map[string]any)["definition"] != nil {
			t.Fatal("format=ids tells definitions")
		}
	}
	for _, query := range []string{"statementId=x", "statementId=" + all[0]["id"].(string) + "&limit=1", "since=yesterday", "limit=-1", "ascending=yes", "format=short",
		"attachments=true", "agent=%7B%7D", "agent=x", "cursor=!", "unknown=1", "verb=a&verb=b", "account=mail", "registration=1"} {
		if a := x.ask("coordinator", "/api/v1/statements?"+query); a.Status != http.StatusBadRequest {
			t.Errorf("%s: %d %s", query, a.Status, a.Body)
		}
	}
}

// Part three, 1.2 and 3.3: the headers of the version. 2.0: 2.0.0.
func TestVersionOfTheStandard(t *testing.T) {
	x := open(t)
	for version, want := range map[string]int{"2.0.0": 200, "2.0": 200, "2.0.1": 200, "1.0.3": 400, "": 400, "3.0.0": 400} {
		a := x.raw("coordinator", "/api/v1/statements", "X-Experience-API-Version", version)
		if a.Status != want || a.Header.Get("X-Experience-API-Version") != "2.0.0" {
			t.Errorf("version %q: %d, answered with %q", version, a.Status, a.Header.Get("X-Experience-API-Version"))
		}
		if want == 200 && a.Header.Get("X-Experience-API-Consistent-Through") == "" { // 2.1.3
			t.Error("it is not said up to when all is told")
		}
	}
}

func TestWhoIsToldOfWhom(t *testing.T) {
	x := open(t).validate()
	about := func(who string) map[string]int {
		n := map[string]int{}
		for _, s := range x.statements(who, "?account=number") {
			n[s["actor"].(map[string]any)["account"].(map[string]any)["name"].(string)]++
		}
		return n
	}
	for who, want := range map[string]string{
		"coordinator": "map[S-colleague:6 S-elsewhere:6 S-technician:14]",
		"manager":     "map[S-colleague:6 S-technician:14]",
		"technician":  "map[S-technician:8]", // without the attempt that is not released
		"elsewhere":   "map[S-elsewhere:2]",  // the score is released, the answers are not
	} {
		if got := fmt.Sprint(about(who)); got != want {
			t.Errorf("%s is told of %s, want %s", who, got, want)
		}
	}
	if a := x.ask("administrator", "/api/v1/statements"); a.Status != http.StatusForbidden {
		t.Errorf("an administrator: %d", a.Status)
	}
}

// 2.3.1 and 2.3.2: a statement never changes; one that is wrong is voided.
func TestARegradeVoidsWhatItChanges(t *testing.T) {
	x := open(t).validate()
	before := x.statements("coordinator", "")
	g, err := x.app.Store.Gradings(t.Context(), x.first.ID)
	must(t, err)
	scores := slices.Clone(g[0].Scores)
	scores[1].Verdict, scores[1].Points, scores[1].Known = grading.Right, 1, false // the second was right after all
	x.clock.Move(time.Hour)
	_, err = x.app.Store.GradeAttempt(t.Context(), x.people["coordinator"].ID, x.first.ID, quiz.Result{Points: 3, Of: 4, Passed: true, Reason: "supplement 4"}, scores)
	must(t, err)
	after := x.statements("coordinator", "")
	byID := map[string]map[string]any{}
	for _, s := range before {
		byID[s["id"].(string)] = s
	}
	fresh := map[string]int{}
	voided := map[string]bool{}
	for _, s := range after {
		checkStatement(t, s)
		if old := byID[s["id"].(string)]; old == nil {
			fresh[verbOf(s)]++
		} else if fmt.Sprint(old) != fmt.Sprint(s) {
			t.Errorf("2.3.1: %v has changed", s["id"])
		}
		delete(byID, s["id"].(string))
		if verbOf(s) == "voided" {
			voided[s["object"].(map[string]any)["id"].(string)] = true
		}
	}
	if got := fmt.Sprint(fresh); got != "map[answered:1 completed:1 passed:1 voided:3]" {
		t.Errorf("new: %s", got)
	}
	if len(byID) != 3 || len(voided) != 3 {
		t.Errorf("%d gone, %d voided", len(byID), len(voided))
	}
	for id, old := range byID {
		if !voided[id] {
			t.Errorf("%v %s is gone and not voided", id, verbOf(old))
		}
		// 2.3.2: found as what was voided, as it was.
		var s map[string]any
		x.ask("coordinator", "/api/v1/statements?voidedStatementId="+id).JSON(t, &s)
		if fmt.Sprint(s) != fmt.Sprint(old) {
			t.Errorf("voided: %v, was %v", s, old)
		}
		if a := x.ask("coordinator", "/api/v1/statements?statementId="+id); a.Status != http.StatusNotFound {
			t.Errorf("a voided one is found as if it stood: %d", a.Status)
		}
	}
	// A system that asks for what is new is told the whole change.
	since := x.statements("coordinator", "?since="+url.QueryEscape(x.clock.Now().Add(-time.Minute).Format(time.RFC3339)))
	if len(since) != 6 {
		t.Errorf("since the regrade: %d", len(since))
	}
}

func TestAnErasedPersonIsForgotten(t *testing.T) {
	x := open(t).validate()
	p := x.people["technician"].ID
	x.statements("coordinator", "")
	must(t, x.app.Store.ErasePerson(t.Context(), x.people["administrator"].ID, p))
	for _, s := range x.statements("coordinator", "?account=number") {
		checkStatement(t, s)
		text, _ := json.Marshal(s)
		if strings.Contains(string(text), "S-technician") || strings.Contains(string(text), "/xapi/practice") {
			t.Errorf("still told: %s", text)
		}
	}
}

func TestStatementsNeedAnAddress(t *testing.T) {
	x := open(t)
	s, err := x.app.Store.Settings(t.Context())
	must(t, err)
	s.BaseURL = ""
	must(t, x.app.Store.SaveSettings(t.Context(), "", &s))
	if a := x.raw("coordinator", "/api/v1/statements"); a.Status != http.StatusConflict || !strings.Contains(a.Body, "settings") {
		t.Errorf("%d %s", a.Status, a.Body)
	}
}
