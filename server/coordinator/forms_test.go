package coordinator_test

import (
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/server/web/webtest"
)

// blueprint is the fields of the editor with some lines, as by, of, bound, want.
func blueprint(catalog, title, questions string, lines ...[4]string) url.Values {
	v := url.Values{"catalog": {catalog}, "title": {title}, "questions": {questions}, "variants": {"2"}, "time": {"30"}, "cut": {"80"}, "options": {"4"}, "seed": {"7"},
		"book": {"open"}, "order": {"mixed"}, "partial": {"1"}}
	for _, l := range lines {
		for i, name := range []string{"by", "of", "bound", "want"} {
			v.Add(name, l[i])
		}
	}
	return v
}

// with gives the fields with another added.
func with(v url.Values, name, value string) url.Values {
	out := url.Values{}
	for k, l := range v {
		out[k] = l
	}
	out.Set(name, value)
	return out
}

func TestABlueprintIsCountedAndMadeIntoAForm(t *testing.T) {
	s := openShop(t)
	says(t, s.b.Get("/forms"), 200, "No catalog is in force")
	says(t, s.b.Get("/forms/new"), 200, "No catalog is in force")
	id := s.inForce("quillan")
	says(t, s.b.Get("/forms/new"), 200, "Yes: a quiz of 20 questions", "Kind of question", "Hazard")
	fields := blueprint(id, "Spring editions", "10", [4]string{"kind", "edition", "", "30%"}, [4]string{"kind", "location", "at least", "2"}, [4]string{"hazard", "any", "", ""})
	got := s.b.Post("/forms/new", with(fields, "do", "count"))
	says(t, got, 200, "Yes: a quiz of 10 questions", "yes: 3 of", "easy")
	if !strings.Contains(got.Body, "edition: 30%") || !strings.Contains(got.Body, "location: at least 2") {
		t.Error("the YAML does not follow the fields")
	}
	made := s.b.Post("/forms/new", with(fields, "do", "make"))
	if made.Status != 303 {
		t.Fatalf("make: %d %s", made.Status, words(made.Body))
	}
	path := made.Header.Get("Location")
	if again := s.b.Post("/forms/new", with(fields, "do", "make")); again.Header.Get("Location") != path {
		t.Errorf("a second click makes %s, not %s", again.Header.Get("Location"), path)
	}
	if list, err := s.app.Store.Forms(t.Context()); err != nil || len(list) != 1 {
		t.Errorf("%d forms, %v", len(list), err)
	}
	says(t, s.b.Get(path), 200, "Spring editions", "Variant B", "Show the key", "Expected score")
	says(t, s.b.Get("/forms"), 200, "Spring editions", "Quillan engine literature, 18")
	says(t, s.b.Get("/forms/new?from="+strings.TrimPrefix(path, "/forms/")), 200, "Yes: a quiz of 10 questions")
}

func TestThePreviewShowsTheKeyOnRequestAlone(t *testing.T) {
	s := openShop(t)
	path := s.makeForm("Preview")
	without, with := s.b.Get(path), s.b.Get(path+"?key=1")
	says(t, without, 200, "Show the key")
	says(t, with, 200, "Hide the key", "How it is found", "Key:")
	if text := words(without.Body); strings.Contains(text, "How it is found") || strings.Contains(text, "Key:") {
		t.Error("the preview shows the key without being asked")
	}
	log, err := s.app.Store.AuditLog(t.Context(), 0, 5)
	if err != nil || len(log) == 0 || log[0].Action != "form.key" {
		t.Errorf("that the key was shown is not in the audit log: %v, %v", log, err)
	}
}

func TestWhatCannotBeMetIsSaidInPlainWords(t *testing.T) {
	s := openShop(t)
	id := s.inForce("quillan")
	fields := blueprint(id, "Too much", "20", [4]string{"hazard", "flooding", "", "19"}, [4]string{"difficulty", "hard", "", "100%"}, [4]string{"kind", "job-class", "", "10"})
	for _, do := range []string{"count", "make"} {
		got := s.b.Post("/forms/new", with(fields, "do", do))
		status := 200
		if do == "make" {
			status = 422
		}
		says(t, got, status, "No: the bank does not have the questions", "flooding", "The nearest quiz has")
		if !strings.Contains(got.Body, `value="100%"`) {
			t.Errorf("%s: what was typed is gone", do)
		}
	}
	if list, _ := s.app.Store.Forms(t.Context()); len(list) != 0 {
		t.Error("a form was made all the same")
	}
}

func TestEveryKindClaimedWithTooFewQuestionsIsToldAsThat(t *testing.T) {
	s := openShop(t)
	id := s.inForce("quillan")
	even := s.b.Post("/forms/new", with(blueprint(id, "Even", "13"), "do", "even"))
	says(t, even, 200, "Yes: a quiz of 13 questions")
	fields := blueprint(id, "Even", "15")
	for _, m := range regexp.MustCompile(`name="by" value="kind"><input type="hidden" name="of" value="([^"]*)"`).FindAllStringSubmatch(even.Body, -1) {
		for name, v := range map[string]string{"by": "kind", "of": m[1], "bound": "", "want": "1"} {
			fields.Add(name, v)
		}
	}
	says(t, s.b.Post("/forms/new", with(fields, "do", "count")), 200, "name every kind of question and add up to 13 of 15")
	says(t, s.b.Post("/forms/new", with(fields, "do", "even")), 200, "Yes: a quiz of 15 questions")
	fields.Set("questions", "9") // fewer than the shares that are to be replaced add up to
	says(t, s.b.Post("/forms/new", with(fields, "do", "even")), 200, "Yes: a quiz of 9 questions")
}

func TestWhatIsWrongInABlueprintIsSaidBesideTheField(t *testing.T) {
	s := openShop(t)
	id := s.inForce("quillan")
	for _, c := range []struct {
		why    string
		fields url.Values
		says   string
	}{
		{"no title", blueprint(id, " ", "10"), "This is needed"},
		{"no number", blueprint(id, "X", "ten"), "A number from 1 to 200"},
		{"too many", blueprint(id, "X", "100000"), "A number from 1 to 200"},
		{"no share", blueprint(id, "X", "10", [4]string{"kind", "edition", "", "some"}), "A whole number such as 5"},
		{"half a question", blueprint(id, "X", "10", [4]string{"kind", "edition", "", "2.5"}), "A whole number such as 5"},
		{"over the whole", blueprint(id, "X", "10", [4]string{"kind", "edition", "", "60%"}, [4]string{"kind", "group", "", "50%"}), "add up to 11, but the quiz has 10"},
		{"twice", blueprint(id, "X", "10", [4]string{"group", "MC", "", "2"}, [4]string{"group", "MC", "at most", "4"}), "stands here twice"},
		{"of nothing", blueprint(id, "X", "10", [4]string{"group", "", "", "2"}), "Say of what"},
		{"no attribute", blueprint(id, "X", "10", [4]string{"colour", "red", "", "2"}), "there are no shares by"},
		{"seed", with(blueprint(id, "X", "10"), "seed", "-4"), "A whole number from 0"},
		{"a catalog that is not in force", blueprint("nonsense", "X", "10"), "not in force any more"},
	} {
		t.Run(c.why, func(t *testing.T) {
			got := s.b.Post("/forms/new", with(c.fields, "do", "make"))
			says(t, got, 422, c.says)
		})
	}
}

func TestABlueprintTravelsAsYAML(t *testing.T) {
	s := openShop(t)
	id := s.inForce("quillan")
	fields := blueprint(id, "Travels: far", "12", [4]string{"kind", "edition", "", "25%"}, [4]string{"hazard", "any", "at least", "3"}, [4]string{"boundary", "", "", "20%"}, [4]string{"model", "W4*", "at most", "50%"})
	file := s.b.Post("/forms/new", with(fields, "do", "export"))
	b, err := banks.ParseBlueprint([]byte(file.Body))
	if err != nil || b.Title != "Travels: far" || len(b.Quotas) != 4 || b.TimeLimit != 30 || b.Variants != 2 || b.Seed != 7 {
		t.Fatalf("%v\n%+v\n%s", err, b, file.Body)
	}
	for name, got := range map[string]webtest.Answer{
		"a file":   s.b.Upload("/forms/import", url.Values{"catalog": {id}}, webtest.File{Field: "file", Name: "b.yaml", Data: []byte(file.Body)}),
		"the text": s.b.Post("/forms/new", url.Values{"catalog": {id}, "do": {"read"}, "yaml": {file.Body}}),
	} {
		says(t, got, 200, "Yes: a quiz of 12 questions")
		for _, want := range []string{`value="Travels: far"`, `value="25%"`, `value="W4*"`, `value="50%"`} {
			if !strings.Contains(html.UnescapeString(got.Body), want) {
				t.Errorf("from %s: there is no %s", name, want)
			}
		}
	}
	wrong := s.b.Post("/forms/new", url.Values{"catalog": {id}, "do": {"read"}, "yaml": {"questions: many\nshares: {kind: {edition: lots}}"}})
	says(t, wrong, 422, "line 1", "line 2", "lots")
	if !strings.Contains(wrong.Body, "questions: many") {
		t.Error("the text that cannot be read is gone")
	}
	big := s.b.Upload("/forms/import", url.Values{"catalog": {id}}, webtest.File{Field: "file", Name: "b.yaml", Data: make([]byte, 300<<10)})
	says(t, big, 422, "too large for a blueprint")
}

func TestAFormIsPrinted(t *testing.T) {
	s := openShop(t)
	path := s.makeForm("Printed")
	for _, q := range []string{"what=booklet", "what=sheet&size=Letter", "what=both&large=1&duplex=1", "what=key&variant=B"} {
		if got := s.b.Get(path + "/print?" + q); got.Status != 200 || !strings.HasPrefix(got.Body, "%PDF") {
			t.Errorf("%s: status %d: %.300s", q, got.Status, words(got.Body))
		}
	}
	says(t, s.b.Get(path+"/print?what=poster"), 422, "Choose the booklet")
	says(t, s.b.Get(path+"/print?what=booklet&size=A0"), 422, "Choose A4 or Letter")
}

// makeForm makes a form of two variants from the small catalog and gives its
// path.
func (s *shop) makeForm(title string) string {
	s.t.Helper()
	id := s.inForce("quillan")
	got := s.b.Post("/forms/new", with(blueprint(id, title, "8"), "do", "make"))
	if got.Status != 303 {
		s.t.Fatalf("make a form: %d %s", got.Status, words(got.Body))
	}
	return got.Header.Get("Location")
}

// sent is what a browser sends of the editor as it stands.
func sent(page, do string) url.Values {
	v := url.Values{"do": {do}, "book": {"open"}, "order": {"mixed"}, "partial": {"1"}}
	for _, m := range regexp.MustCompile(`<(?:input|textarea)[^>]* name="(title|questions|variants|time|cut|options|seed|evenly|by|of|want)"[^>]*>`).FindAllStringSubmatch(page, -1) {
		value := ""
		if x := regexp.MustCompile(` value="([^"]*)"`).FindStringSubmatch(m[0]); x != nil {
			value = html.UnescapeString(x[1])
		}
		v.Add(m[1], value)
		if m[1] == "want" {
			v.Add("bound", "")
		}
	}
	v.Set("catalog", regexp.MustCompile(`<option value="([^"]*)" selected>Quillan`).FindStringSubmatch(page)[1])
	return v
}

func TestSharesFollowTheNumberOfQuestionsUntilTheyAreTouched(t *testing.T) {
	s := openShop(t)
	s.inForce("quillan")
	fields := sent(s.b.Get("/forms/new").Body, "count")
	fields.Set("questions", "9")
	got := s.b.Post("/forms/new", fields)
	says(t, got, 200, "Yes: a quiz of 9 questions")
	again := sent(got.Body, "make") // without a script the page comes back spread for nine
	again.Set("questions", "12")
	if made := s.b.Post("/forms/new", again); made.Status != 303 {
		t.Errorf("untouched: %d %s", made.Status, words(made.Body))
	}
	for i, want := range again["want"] {
		if want != "" {
			again["want"][i] = "3"
			break
		}
	}
	again.Set("questions", "5")
	says(t, s.b.Post("/forms/new", again), 422, "but the quiz has 5")
}
