package grading

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

func placeQuestion(accept []string, slips ...banks.Slipped) *banks.Question {
	return &banks.Question{
		ID: "p", Kind: "location", Skill: "locations", Form: banks.Typed,
		About: banks.About{Publication: "40-R-212-B"}, Order: []banks.Line{{Label: "Publication", Value: "40-R-212-B"}},
		Key:     banks.Key{Accept: accept, Charset: "code"},
		Slipped: slips,
		Trace:   []banks.TraceLine{{Step: resolver.LocationStep, Result: accept[0]}},
	}
}

// What people write for a place is taken for it, and nothing else is.
func TestTypedPlaces(t *testing.T) {
	for _, c := range []struct {
		key   string
		right []string
		wrong []string
	}{
		{
			"page 130",
			[]string{"page 130", "Page 130", "130", "p. 130", "p.130", "p130", "P 130", "pg 130", "pg. 130", "page no. 130", "pp. 130", " 130 .", "page: 130", "page 0130",
				"40-R-212-B page 130", "40-R-212-B, p. 130", "40R212B p130", "page 130 of 40-R-212-B", "p. 130 in 40 R 212 B", "40-R-212-B / 130"},
			[]string{"13", "1300", "1-30", "13 0", "page 131", "section 130", "frame 130", "sheet 130", "40-R-212-A page 130", "40-R-212 page 130", "130 131", "page", ""},
		},
		{
			"page DH-20",
			[]string{"DH-20", "dh 20", "DH20", "p. DH-20", "page DH.20", "page DH 20", "DH/20", "DH_20"},
			[]string{"DH-2", "DH-200", "DH-2-0", "D-20", "section DH-20", "HD-20"},
		},
		{
			"section CB.10",
			[]string{"CB 10", "section CB.10", "cb.10", "CB10", "CB-10", "sec CB.10", "sec. CB.10", "sect. CB 10", "§ CB.10", "§CB.10", "Section: CB.10", "chapter CB.10", "40-R-212-B section CB.10", "40-R-212-B CB.10"},
			[]string{"CB.1", "CB.1.0", "CB.100", "CB", "page CB.10", "CB 1 0", "BC.10"},
		},
		{
			"section 10",
			[]string{"section 10", "ch 10", "ch. 10", "chapter 10", "sec. 10", "sec10", "ch10", "§10"},
			[]string{"10", "1", "100", "1.0", "page 10", "p10"},
		},
		{
			"section CH.10", // a group that is called like the short word for chapter
			[]string{"CH 10", "CH.10", "section CH.10", "section ch 10"},
			[]string{"10", "section 10", "CH 1"},
		},
		{
			"sheet 1, frame F5",
			[]string{"sheet 1 frame F5", "sheet 1, frame F5", "1/F5", "1 F5", "1-F5", "1, F5", "frame F5 sheet 1", "frame F5 of sheet 1", "sheet 1 F5", "sht 1 fr F5", "sht. 1/F5", "Sheet 1 – Frame F5", "1F5", "40-R-212-B 1/F5"},
			[]string{"F5", "frame F5", "sheet 1", "1", "1/F50", "11/F5", "2/F5", "1/F 6", "sheet F5 frame 1", "page 1 F5", "1/5", "frame 5"},
		},
		{
			"section QE, page 14",
			[]string{"QE 14", "section QE page 14", "page 14", "p. 14", "14", "QE-14", "section QE, p14"},
			[]string{"QE", "section QE", "QE 1", "QF 14", "section QF page 14"},
		},
		{
			"60-D-330-A, section 1",
			[]string{"60-D-330-A, section 1", "60-D-330-A section 1", "60-D-330-A ch. 1", "60D330A §1", "section 1 in 60-D-330-A", "60-d-330-a sec 1", "60-D-330-A: chapter 1"},
			[]string{"60-D-330-B, section 1", "60-D-330, section 1", "section 1", "1", "60-D-330-A", "60-D-330-A, section 11", "60-D-330-A page 1", "60-D-330-A1"},
		},
		{
			"chapter 3, step 2",
			[]string{"chapter 3, step 2", "3/2", "3 / 2", "ch 3 step 2", "chapter 3/2", "3, step 2", "section 3 step 2", "3-2", "3.2", "step 2 of chapter 3", "chap. 3, st. 2"},
			[]string{"chapter 2, step 3", "2/3", "3", "step 2", "chapter 3", "32", "chapter 3, step 2 and 4", "3/2/4"},
		},
		{
			"chapter 3, steps 2 and 4",
			[]string{"chapter 3, steps 2 and 4", "chapter 3, steps 4 and 2", "ch 3 steps 2, 4", "chapter 3 step 2 and step 4"},
			[]string{"chapter 3, step 2", "chapter 3, step 4", "chapter 3, steps 2, 3 and 4"},
		},
		{
			"chapter 15, step 2, left side",
			[]string{"chapter 15, step 2, left side", "15/2 left", "15/2 LH", "left side, chapter 15 step 2", "15/2, left hand", "15/2 port"},
			[]string{"chapter 15, step 2, right side", "15/2", "chapter 15, step 2", "15/2 RH", "15 left"},
		},
		{
			"bulletin 60-N-901",
			[]string{"bulletin 60-N-901", "60-N-901", "60N901", "SB 60-N-901", "Bulletin no. 60-N-901"},
			[]string{"60-N-902", "60-N-9", "page 901"},
		},
	} {
		g := NewGrader(placeQuestion([]string{c.key}), Rules{})
		for _, given := range c.right {
			if s, err := g.Grade(given); err != nil || s.Verdict != Right {
				t.Errorf("%s: %q is %s (%v)", c.key, given, s.Verdict, err)
			}
		}
		for _, given := range c.wrong {
			if s, err := g.Grade(given); err == nil && s.Points != 0 {
				t.Errorf("%s: %q is %s", c.key, given, s.Verdict)
			}
		}
	}
}

// A place that says too little is wrong, and says what is wanting.
func TestIncompletePlaces(t *testing.T) {
	for _, c := range []struct{ key, given, missing string }{
		{"sheet 1, frame F5", "frame F5", "the sheet is missing"},
		{"sheet 1, frame F5", "sheet 1", "the frame is missing"},
		{"60-D-330-A, section 1", "section 1", "the publication is missing"},
		{"chapter 15, step 2, left side", "15/2", "the side is missing"},
		{"chapter 3, step 2", "chapter 3", "the step is missing"},
	} {
		s, err := Grade(placeQuestion([]string{c.key}), c.given, Rules{})
		if err != nil || s.Verdict != Wrong || s.Known || !strings.Contains(s.Says, c.missing) || !strings.Contains(s.Says, nextTime) {
			t.Errorf("%s: %q says %q (%v)", c.key, c.given, s.Says, err)
		}
	}
}

// The page of an old edition and the section of a new one may look alike: what
// is written as the one or the other is taken so, and what could be both is for
// a person to ask.
func TestPlacesThatLookAlike(t *testing.T) {
	q := placeQuestion([]string{"section DH.20", "DH.20"}, banks.Slipped{Value: "page DH-20", Slip: resolver.SupersededEdition})
	for given, want := range map[string]resolver.Slip{
		"section DH.20": resolver.NoSlip,
		"DH.20":         resolver.NoSlip,
		"dh.20":         resolver.NoSlip,
		"page DH-20":    resolver.SupersededEdition,
		"DH-20":         resolver.SupersededEdition,
		"p. DH 20":      resolver.SupersededEdition,
	} {
		s, err := Grade(q, given, Rules{})
		if err != nil || s.Slip != want || (want == resolver.NoSlip) != (s.Verdict == Right) {
			t.Errorf("%q scored %+v (%v)", given, s, err)
		}
	}
	for _, given := range []string{"DH 20", "DH20", "40-R-212-B DH 20"} {
		if s, err := Grade(q, given, Rules{}); err == nil {
			t.Errorf("%q could be either, but scored %+v", given, s)
		}
	}
	// A bare number may be a page or a section of the same book.
	tests := placeQuestion([]string{"40-D-312-A, section 11"})
	if s, err := Grade(tests, "40-D-312-A, 11", Rules{}); err == nil {
		t.Errorf("a bare number scored %+v", s)
	}
	if s, err := Grade(tests, "40-D-312-B, 11", Rules{}); err != nil || s.Verdict != Wrong {
		t.Errorf("a bare number of another book scored %+v (%v)", s, err)
	}
	// Another publication that is named shows that the old edition was used.
	if s, _ := Grade(q, "40-R-212-A page DH-20", Rules{}); s.Slip != resolver.SupersededEdition {
		t.Errorf("the page of another edition, named, scored %+v", s)
	}
}

// mostWritten bounds the places of a publication that are written out.
const mostWritten = 16

// No way to write one place is taken for another place of the same publication:
// places of every publication of the demonstration catalogs (up to so many of
// each, spread over it), in every way that is accepted for them, against every
// other of the publication.
func TestNoPlaceIsTakenForAnother(t *testing.T) {
	forms, pairs := 0, 0
	for _, d := range demos(t) {
		for pub, texts := range placesOf(&d) {
			var want []place
			for _, text := range texts {
				p, _, ok := placeOf(text)
				if !ok {
					t.Fatalf("%q is no place", text)
				}
				want = append(want, p)
			}
			asked := Normalise(pub, Code)
			stride := 1 + len(texts)/mostWritten
			for i, text := range texts {
				if i%stride != 0 {
					continue
				}
				// The slips of a question are what it could be taken for.
				own := newTyped("code", []expected{{text: text, right: true}}, pub, false)
				for _, form := range waysToWrite(text, pub) {
					forms++
					if h := own.find(form); h.at < 0 || h.refusal != nil {
						t.Errorf("%s %s: %q is not accepted", pub, text, form)
					}
					for how := range placeReadings {
						g := parsePlace(form, []string{pub}, how)
						for j := range want {
							if i == j {
								continue
							}
							pairs++
							if same, _ := g.is(&want[j], asked, true); same {
								// Whether it is read so depends on what comes first.
								other := newTyped("code", []expected{{text: texts[j], right: true}}, pub, false)
								if h := other.find(form); h.at >= 0 {
									t.Errorf("%s: %q, written for %s, is taken for %s", pub, form, text, texts[j])
								}
							}
						}
					}
				}
			}
		}
	}
	t.Logf("%d ways to write places, %d comparisons", forms, pairs)
	if forms < 10_000 {
		t.Errorf("only %d ways were tried", forms)
	}
}

// placesOf lists the places of each publication of a catalog, each once.
func placesOf(d *demo) map[string][]string {
	out := map[string][]string{}
	add := func(pub, text string) {
		if text != "" && !slices.Contains(out[pub], text) {
			out[pub] = append(out[pub], text)
		}
	}
	put := func(pub string, l catalog.Location) { add(pub, resolver.PlaceText(l)) }
	tables := d.src.T
	for i := range tables.Procedures {
		put(tables.Procedures[i].Publication, tables.Procedures[i].Location)
	}
	for i := range tables.Operations {
		put(tables.Operations[i].Publication, tables.Operations[i].Location)
	}
	for i := range tables.Specifications {
		put(tables.Specifications[i].Publication, tables.Specifications[i].Location)
	}
	for i := range tables.TroubleCodes {
		put(tables.TroubleCodes[i].Publication, tables.TroubleCodes[i].Location)
	}
	for i := range tables.Tests {
		s := &tables.Tests[i]
		text := "chapter " + s.Chapter + ", step " + s.Step
		if s.Side != "" {
			text += ", " + s.Side + " side"
		}
		add(s.Publication, text)
	}
	return out
}

// waysToWrite lists how people write a place.
func waysToWrite(text, pub string) []string {
	p, _, _ := placeOf(text)
	bare := bareOf(text)
	ways := []string{text, strings.ToUpper(text), strings.ReplaceAll(text, ",", ""), pub + ", " + text, text + " in " + pub, pub + " " + strings.ToLower(text)}
	switch {
	case p.part[stepPart] != "":
		chapter, step, _ := strings.Cut(bare, " ")
		side := ""
		if p.side != "" {
			side = " " + p.side
		}
		ways = append(ways, chapter+"/"+step+side, "ch. "+chapter+" step "+step+side, chapter+"-"+step+side)
	case p.part[framePart] != "":
		sheet, frame, _ := strings.Cut(bare, " ")
		ways = append(ways, bare, sheet+"/"+frame, sheet+frame, "sht "+sheet+" fr "+frame, "frame "+frame+", sheet "+sheet)
	case p.part[pagePart] != "":
		ways = append(ways, bare, "p. "+bare, "pg "+bare, strings.ReplaceAll(bare, "-", " "), strings.ReplaceAll(bare, "-", ""), strings.ToLower(bare), pub+" "+bare)
	case isNumber(p.part[sectionPart]):
		ways = append(ways, "sec. "+bare, "§"+bare, "ch. "+bare, "chapter "+bare)
	default:
		ways = append(ways, bare, "sec. "+bare, "§ "+bare, strings.ReplaceAll(bare, ".", " "), strings.ReplaceAll(bare, ".", ""), strings.ReplaceAll(bare, ".", "-"), pub+"/"+bare)
	}
	if p.part[pagePart] != "" && isDigit(rune(bare[0])) {
		ways = append(ways, "p"+bare, "p."+bare, fmt.Sprintf("page 0%s", bare))
	}
	return ways
}
