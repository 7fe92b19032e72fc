package resolver_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// disagreement says how two answers to a query differ; "" where they do not.
func disagreement(n *naive, q *resolver.Query, a *resolver.Answer) string {
	want := n.resolve(q)
	var out []string
	differ := func(what string, naive, fast any) {
		out = append(out, fmt.Sprintf("%s: definitions give %v, Resolve gives %v", what, naive, fast))
	}
	if a.Status != want.status {
		differ("status", want.status, a.Status)
	}
	places := map[string]bool{}
	for i := range a.Items {
		it := &a.Items[i]
		s := n.placeText(naivePlace{naiveRecord{it.Table, int(it.Row), int(it.Publication), it.Operation}, int(it.Bulletin)}, it.Partly)
		if places[s] {
			differ("places", "each place once", s+" twice")
		}
		places[s] = true
	}
	wantPlaces := map[string]bool{}
	for p, partly := range want.places {
		wantPlaces[n.placeText(p, partly)] = true
	}
	if x, y := lines(wantPlaces), lines(places); x != y {
		differ("places", x, y)
	}
	amendments := map[string]bool{}
	for _, m := range a.Amendments {
		it := &a.Items[m.Item]
		amendments[n.amendmentText(naiveAmendment{naiveRecord{it.Table, int(it.Row), int(it.Publication), it.Operation}, int(m.Bulletin), m.Replaces})] = true
	}
	wantAmendments := map[string]bool{}
	for m := range want.amendments {
		wantAmendments[n.amendmentText(m)] = true
	}
	for m := range want.amendments { // a bulletin that replaces a record may name it twice
		if m.replaces {
			m.replaces = false
			delete(amendments, n.amendmentText(m))
			delete(wantAmendments, n.amendmentText(m))
		}
	}
	if x, y := lines(wantAmendments), lines(amendments); x != y {
		differ("amendments", x, y)
	}
	services, wantServices := map[string]bool{}, map[string]bool{}
	for _, s := range a.Services {
		services[n.serviceText(int(s))] = true
	}
	for s := range want.services {
		wantServices[n.serviceText(s)] = true
	}
	if x, y := lines(wantServices), lines(services); x != y {
		differ("services", x, y)
	}
	if want.settled && want.status == resolver.NotCovered && a.Status == resolver.NotCovered && a.FailedAt != want.failed {
		differ("failed at", want.failed, a.FailedAt)
	}
	return strings.Join(out, "\n")
}

func lines(set map[string]bool) string {
	var s []string
	for l := range set {
		s = append(s, l)
	}
	slices.Sort(s)
	return "\n\t" + strings.Join(s, "\n\t")
}

func (n *naive) recordText(r naiveRecord) string {
	pub := "no publication"
	if r.pub >= 0 {
		pub = n.t.Publications[r.pub].ID
	}
	return strings.TrimSpace(fmt.Sprintf("%s in %s %s", n.rowText(r.table, r.row), pub, r.op))
}

func (n *naive) rowText(table resolver.Table, row int) string {
	if row < 0 {
		return "no record"
	}
	switch table {
	case resolver.ProcedureTable:
		return "procedure:" + n.t.Procedures[row].ID
	case resolver.OperationTable:
		return fmt.Sprintf("operation:%s row %d", n.t.Operations[row].Number, row)
	case resolver.SpecificationTable:
		return "specification:" + n.t.Specifications[row].ID
	case resolver.TestTable:
		t := n.t.Tests[row]
		return "test:" + t.Publication + "/" + t.Chapter + "/" + t.Step + t.Side
	case resolver.TroubleTable:
		return fmt.Sprintf("trouble:%s/%s row %d", n.t.TroubleCodes[row].System, n.t.TroubleCodes[row].Code, row)
	}
	return fmt.Sprint(table, row)
}

func (n *naive) placeText(p naivePlace, partly bool) string {
	s := n.recordText(p.naiveRecord)
	if p.bulletin >= 0 {
		s += ", read " + n.t.Bulletins[p.bulletin].ID + " instead"
	}
	if partly {
		s += " (partly)"
	}
	return s
}

func (n *naive) amendmentText(m naiveAmendment) string {
	does := "amends"
	if m.replaces {
		does = "replaces"
	}
	return n.t.Bulletins[m.bulletin].ID + " " + does + " " + n.recordText(m.naiveRecord)
}

func (n *naive) serviceText(row int) string {
	return fmt.Sprintf("%s row %d", n.t.Schedule[row].Name, row)
}

func queryText(q *resolver.Query) string {
	b, err := json.Marshal(q)
	if err != nil {
		return err.Error()
	}
	return string(b)
}

func TestAgreesWithDefinitionsOnSmallCatalogs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := randomCatalog(rapidDice{t}, small)
		c := b.catalog()
		r, n := resolver.New(c), newNaive(c)
		var a resolver.Answer
		for range 12 {
			q := b.query()
			r.Resolve(q, resolver.Break{}, &a)
			if diff := disagreement(n, q, &a); diff != "" {
				t.Fatalf("%s\n%s", queryText(q), diff)
			}
		}
	})
}

// The seeded runs go over fixed catalogs: three random ones, in which everything
// collides with everything, and the demo catalogs, which are as large as real
// ones. With the build tag long each random one is asked 100,000 times and each
// demo catalog 50,000 times; the everyday run asks a fraction of that.
// The three random ones are seeds that give many answers; what they are like is
// checked, since a change of the generator changes them.
func TestAgreesWithDefinitionsOnRandomCatalogKeyedByModel(t *testing.T) {
	agreeOnRandom(t, 0, "model", true)
}

func TestAgreesWithDefinitionsOnRandomCatalogOfEngines(t *testing.T) {
	agreeOnRandom(t, 1, "engine", false)
}

func TestAgreesWithDefinitionsOnRandomCatalogKeyedByEngine(t *testing.T) {
	agreeOnRandom(t, 14, "engine", true)
}

func TestAgreesWithDefinitionsOnTarnfell(t *testing.T) { agreeOnDemo(t, "tarnfell/2025-1") }

func TestAgreesWithDefinitionsOnQuillan(t *testing.T) { agreeOnDemo(t, "quillan") }

func agreeOnRandom(t *testing.T, seed uint64, primary string, cards bool) {
	b := randomCatalog(seededDice{rand.New(rand.NewPCG(seed, 11))}, mid)
	if b.meta.Primary != primary || cards != (len(b.t.Models) > 0) {
		t.Fatalf("seed %d gives a catalog keyed by %s with %d data cards: choose another seed", seed, b.meta.Primary, len(b.t.Models))
	}
	agree(t, b.catalog(), randomLookups, b.query)
}

func agreeOnDemo(t *testing.T, path string) {
	c := demo(t, path)
	agree(t, c, demoLookups, newAsker(seededDice{rand.New(rand.NewPCG(5, 3))}, c).query)
}

func agree(t *testing.T, c *catalog.Catalog, lookups int, query func() *resolver.Query) {
	r, n := resolver.New(c), newNaive(c)
	var a resolver.Answer
	answers := map[string]int{}
	bad := 0
	for i := range lookups {
		q := query()
		r.Resolve(q, resolver.Break{}, &a)
		answers[q.Task.String()+" "+a.Status.String()]++
		if diff := disagreement(n, q, &a); diff != "" {
			t.Errorf("lookup %d: %s\n%s", i, queryText(q), diff)
			if bad++; bad == 5 {
				t.Fatal("and so on")
			}
		}
	}
	t.Logf("answers: %v", answers)
	// A run in which one kind of lookup or of answer hardly occurs proves little.
	for kind, least := range map[string]int{"job": 10, "complaint": 5, "due": 5, "trouble": 5, "spec": 5, "found": 5, "ambiguous": 5, "not covered": 5} {
		k := 0
		for what, n := range answers {
			if strings.Contains(what, kind) {
				k += n
			}
		}
		if k < lookups*least/100 {
			t.Errorf("only %d of %d lookups were %s", k, lookups, kind)
		}
	}
}
