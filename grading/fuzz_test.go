package grading

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// fuzzQuestions are questions of every form, and of every way to read a typed
// answer.
func fuzzQuestions() []*banks.Question {
	edition := typedKeyed("edition", "code", "56-R-245-B", banks.Slipped{Value: "56-R-245-A", Slip: resolver.SupersededEdition})
	edition.Order = []banks.Line{{Label: "Publication", Value: "56-R-245 Front loaders"}}
	code := typedKeyed("trouble-code", "code", "1208-3", banks.Slipped{Value: "120-83", Slip: resolver.WrongDigits})
	vin := typedKeyed("read-code", "vin", "GTFP22FF3FS206804")
	values := typedKeyed("specification", "text", "45 to 55 N·m", banks.Slipped{Value: "35 to 40 N·m", Slip: resolver.NeighbourCard})
	grade := typedKeyed("specification", "text", "SAE 10W-40", banks.Slipped{Value: "SAE 10W-30", Slip: resolver.WrongAmbient})
	latest := typedKeyed("latest", "code", "40-R-212-B with 60-N-901 and 60-N-917", banks.Slipped{Value: "40-R-212-B alone", Slip: resolver.BulletinIgnored})
	one, _ := shopQuestions("q1")
	some, _ := shopQuestions("q3")
	order := &banks.Question{ID: "o", Kind: "latest", Form: banks.Ordered,
		Options: []banks.Option{{Text: "N-3", Value: "N-3", Right: true}, {Text: "N-1", Value: "N-1", Right: true}, {Text: "N-2", Value: "N-2", Right: true}},
		Key:     banks.Key{Order: []string{"N-1", "N-2", "N-3"}}}
	return []*banks.Question{
		one, some, order, shopChase(), &edition, &code, &vin, &values, &grade, &latest,
		placeQuestion([]string{"section DH.20", "DH.20"}, banks.Slipped{Value: "page DH-20", Slip: resolver.SupersededEdition}),
		placeQuestion([]string{"60-D-330-A, section 1"}, banks.Slipped{Value: "60-D-330-B, section 1", Slip: resolver.LimitOffByOne}),
		placeQuestion([]string{"chapter 15, step 2, left side"}, banks.Slipped{Value: "chapter 15, step 2, right side", Slip: resolver.OtherSide}),
		numberQuestion(38, "N·m", 0, banks.Slipped{Value: "52 N·m", Slip: resolver.NeighbourCard}),
		numberQuestion(1500, "mm", 1, banks.Slipped{Value: "1.5 mm", Slip: resolver.NeighbourCard}),
		{ID: "e", Form: banks.OneOf}, {ID: "f", Form: banks.Typed}, {ID: "g", Form: banks.Chase}, {ID: "h", Form: "riddle"},
	}
}

// Any answer to any question: no panic; a score that is sound, or a refusal
// that says why; the same again when the memory is used again and when there
// are spaces around.
func FuzzGrade(f *testing.F) {
	questions := fuzzQuestions()
	graders := make([]*Grader, len(questions))
	for i, q := range questions {
		graders[i] = NewGrader(q, Rules{})
		key := KeyAnswer(q)
		f.Add(key, uint8(i))
		for a := range SlipAnswers(q) {
			f.Add(a, uint8(i))
		}
	}
	for i, s := range []string{"", "-", "B, A", "А", "A|B||C|JB.7|-", "p. DH 20", "40-R-212-A p130", "1 1/2\"", "½", "12.500,5 Nm", "≤ 0,1 mm", "4 ± 2 mm", "1,500 rpm", "min⁻¹", "\xff", "60-D-330-A sec. 1, LH", "bulletin 60-N-901 instead of 40R212B"} {
		for j := range 3 {
			f.Add(s, uint8(i+7*j))
		}
	}
	f.Fuzz(func(t *testing.T, given string, n uint8) {
		g := graders[int(n)%len(graders)]
		s, err := g.Grade(given)
		if err != nil {
			var r *Refusal
			if !errors.As(err, &r) || r.Reason == "" || r.Mend == "" {
				t.Fatalf("%q: %v is no refusal that says why", given, err)
			}
			if s.Verdict != "" || s.Points != 0 {
				t.Fatalf("%q is refused and scored %+v", given, s)
			}
			return
		}
		checkScore(t, given, &s)
		var again Score
		if err := g.GradeInto(given, &again); err != nil || again.Points != s.Points || again.Slip != s.Slip || again.Says != s.Says {
			t.Fatalf("%q scored %+v, and again %+v", given, s, again)
		}
		if padded, err := g.Grade(" " + given + "\t"); err != nil || padded.Points != s.Points || padded.Slip != s.Slip {
			t.Fatalf("%q scored %+v, with spaces around it %+v (%v)", given, s, padded, err)
		}
	})
}

// checkScore checks what holds for any score.
func checkScore(t fataler, given string, s *Score) {
	switch {
	case math.IsNaN(s.Points) || s.Points < 0 || s.Points > 1,
		(s.Verdict == Right) != (s.Points == 1),
		s.Verdict == Partly && s.Points == 0,
		(s.Verdict == Wrong || s.Verdict == Blank) && s.Points != 0,
		s.Known != (s.Slip != resolver.NoSlip),
		s.Verdict == Right && s.Says != "",
		(s.Verdict == Wrong || s.Verdict == Partly) && !strings.Contains(s.Says, nextTime),
		s.Verdict == Carried, s.Verdict == "":
		t.Fatalf("%q scored %+v", given, s)
	}
	var sum float64
	for _, ss := range s.Steps {
		sum += ss.Points
		switch ss.Verdict {
		case Right, Carried:
			if ss.Points != 1 || ss.Known {
				t.Fatalf("%q: step %+v", given, ss)
			}
		case Wrong, Blank:
			if ss.Points != 0 || ss.Known != (ss.Slip != resolver.NoSlip) {
				t.Fatalf("%q: step %+v", given, ss)
			}
		default:
			t.Fatalf("%q: step %+v", given, ss)
		}
	}
	if n := float64(len(s.Steps)); n > 0 && math.Abs(sum/n-s.Points) > 1e-12 {
		t.Fatalf("%q: %v points, the steps have %v of %v", given, s.Points, sum, n)
	}
}

// Any file: no panic, and every row of it is accounted for.
func FuzzGradeCSV(f *testing.F) {
	for _, s := range []string{
		"person,question,answer\nAnn,q1,B\n",
		"Name;q1;q2;other\nAnn;B;12;x\n;;;\n",
		"title\n\nperson\tquestion\tanswer\nAnn\tq1\t\"B\nBo\tq1\tA\n",
		"sep=;\nperson;question;answer\nAnn;q1;B",
		"\ufeffperson,question,answer\r\nJ\xfcrgen,q1,B\r\n",
		"person,question,answer\rAnn,q1,B\rAnn,q1,A\r",
		"\xff\xfep\x00e\x00r\x00s\x00o\x00n\x00,\x00q\x001\x00\n\x00A\x00,\x00B\x00",
		"person,question,answer\nAnn,q2,12-Jan\nAnn,q2,#N/A\n=1,q1,=B\n",
		"person,q1,q1,q2\nAnn,\"A\n,B,C,\nD\",B,\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := GradeCSV(bytes.NewReader(data), shopQuestions, Rules{})
		if err != nil {
			if !strings.Contains(err.Error(), "row ") {
				t.Fatalf("the error names no row: %v", err)
			}
			return
		}
		checkSheet(t, s)
		for i := range s.Rows {
			if sc := s.Rows[i].Score; sc != nil {
				checkScore(t, s.Rows[i].Answer, sc)
			}
		}
		var b bytes.Buffer
		if err := s.WriteCSV(&b); err != nil {
			t.Fatal(err)
		}
		if err := s.WriteTable(&b, 5); err != nil {
			t.Fatal(err)
		}
		if err := s.WriteJSON(&b); err != nil {
			t.Fatal(err)
		}
	})
}
