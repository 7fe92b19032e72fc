package grading

import (
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// typedCase is a typed question and what answers to it are.
type typedCase struct {
	name   string
	q      banks.Question
	right  []string
	slips  map[string]resolver.Slip
	wrong  []string // not recognised
	refuse []string
}

func typedKeyed(kind, charset string, accept string, slipped ...banks.Slipped) banks.Question {
	return banks.Question{
		ID: "t", Kind: kind, Form: banks.Typed, Key: banks.Key{Accept: []string{accept}, Charset: charset}, Slipped: slipped,
		Trace: []banks.TraceLine{{Step: resolver.EditionStep, Result: accept}},
	}
}

func TestTypedAnswers(t *testing.T) {
	edition := typedKeyed("edition", "code", "56-R-245-B", banks.Slipped{Value: "56-R-245-A", Slip: resolver.SupersededEdition})
	edition.Order = []banks.Line{{Label: "Publication", Value: "56-R-245 Front loaders of tractors: repair"}}
	for _, c := range []typedCase{
		{
			name:  "a trouble code keeps the hyphen between its numbers",
			q:     typedKeyed("trouble-code", "code", "1208-3", banks.Slipped{Value: "120-83", Slip: resolver.WrongDigits}),
			right: []string{"1208-3", "1208 3", "1208/3", "SPN 1208 FMI 3", "spn 1208, fmi 3", "SPN: 1208 FMI: 3"},
			slips: map[string]resolver.Slip{"120-83": resolver.WrongDigits, "120 83": resolver.WrongDigits},
			wrong: []string{"12083", "1208", "3", "1208-31"},
		},
		{
			name:  "a chassis number may be grouped, and has no O, I or Q",
			q:     typedKeyed("read-code", "vin", "GTFP22FF3FS206804"),
			right: []string{"gtfp22ff3fs206804", "GTF P22FF3FS 206804", "GTFP22FF3FS2O68O4", "GTFP22FF3FS2Q6804"},
			wrong: []string{"GTFP22FF3FS206805", "GTFP22FF3FS20680"},
		},
		{
			name:  "a code that holds a letter which the charset forbids is compared as it is",
			q:     typedKeyed("read-code", "vin", "Q11A", banks.Slipped{Value: "011A", Slip: resolver.WrongDigits}),
			right: []string{"q11a", "Q-11A"},
			slips: map[string]resolver.Slip{"011A": resolver.WrongDigits},
			wrong: []string{"O11A"},
		},
		{
			name:  "digits alone",
			q:     typedKeyed("read-code", "digits", "206804"),
			right: []string{"206804", "2O68O4", "206 804", "206-804"},
			wrong: []string{"206805", "20680"},
		},
		{
			name:  "an edition may be named by what sets it apart",
			q:     edition,
			right: []string{"56-R-245-B", "56R245B", "56 r 245 b", "B", "b", "edition B", "Ed. B", "publication 56-R-245-B"},
			slips: map[string]resolver.Slip{"56-R-245-A": resolver.SupersededEdition, "A": resolver.SupersededEdition, "edition A": resolver.SupersededEdition},
			wrong: []string{"56-R-245", "C", "56-R-254-B"},
		},
		{
			name:  "a group may be named by its code or its title",
			q:     typedKeyed("group", "code", "LD Loader control", banks.Slipped{Value: "LA Loader arms and frame", Slip: resolver.SiblingGroup}),
			right: []string{"LD Loader control", "LD", "ld", "loader control", "LD loader control", "LD – Loader control"},
			slips: map[string]resolver.Slip{"LA": resolver.SiblingGroup, "Loader arms and frame": resolver.SiblingGroup},
			wrong: []string{"L", "D", "LDA"},
		},
		{
			name:  "none, in other words",
			q:     typedKeyed("chase", "code", "none", banks.Slipped{Value: "60-N-901", Slip: resolver.BulletinIgnored}),
			right: []string{"none", "None", "no", "no bulletin", "No bulletins.", "nil", "-", "–", "0", "n/a", "not amended"},
			slips: map[string]resolver.Slip{"60-N-901": resolver.BulletinIgnored, "bulletin 60-N-901": resolver.BulletinIgnored, "SB 60N901": resolver.BulletinIgnored},
			wrong: []string{"60-N-902", "one"},
		},
		{
			name:  "an edition alone",
			q:     typedKeyed("latest", "code", "40-R-212-B alone", banks.Slipped{Value: "40-R-212-A alone", Slip: resolver.SupersededEdition}, banks.Slipped{Value: "40-R-212-B with 60-N-901", Slip: resolver.BulletinIgnored}),
			right: []string{"40-R-212-B alone", "40-R-212-B", "only 40-R-212-B", "40-R-212-B, no bulletins", "edition 40R212B"},
			slips: map[string]resolver.Slip{"40-R-212-A": resolver.SupersededEdition, "40-R-212-B + 60-N-901": resolver.BulletinIgnored},
			wrong: []string{"40-R-212", "40-R-212-B and 60-N-902", "60-N-901", "no bulletins"},
		},
		{
			name: "an edition with its bulletins",
			q: typedKeyed("latest", "code", "40-R-212-B with 60-N-901 and 60-N-917",
				banks.Slipped{Value: "40-R-212-B alone", Slip: resolver.BulletinIgnored}),
			right: []string{"40-R-212-B with 60-N-901 and 60-N-917", "40-R-212-B, 60-N-917, 60-N-901", "40-R-212-B + 60-N-901 + 60-N-917", "40-R-212-B with bulletins 60-N-901 & 60-N-917"},
			slips: map[string]resolver.Slip{"40-R-212-B": resolver.BulletinIgnored},
			wrong: []string{"40-R-212-B with 60-N-901", "60-N-901 and 60-N-917", "40-R-212-A with 60-N-901 and 60-N-917"},
		},
		{
			name: "a bulletin in place of an edition",
			q: typedKeyed("latest", "code", "bulletin 60-N-901 in place of 40-R-212-B",
				banks.Slipped{Value: "40-R-212-B alone", Slip: resolver.BulletinIgnored}, banks.Slipped{Value: "40-R-212-B with 60-N-901", Slip: resolver.LimitOffByOne}),
			right: []string{"bulletin 60-N-901 in place of 40-R-212-B", "60-N-901 instead of 40-R-212-B", "bulletin 60-N-901", "60-N-901"},
			slips: map[string]resolver.Slip{"40-R-212-B": resolver.BulletinIgnored, "40-R-212-B with 60-N-901": resolver.LimitOffByOne},
			wrong: []string{"60-N-902 in place of 40-R-212-B"},
		},
		{
			name:  "a range of values",
			q:     typedKeyed("specification", "text", "45 to 55 N·m", banks.Slipped{Value: "35 to 40 N·m", Slip: resolver.NeighbourCard}),
			right: []string{"45 to 55 N·m", "45-55 Nm", "45–55nm", "50 ± 5 Nm", "45 Nm to 55 Nm", "33.2 to 40.6 ft-lb", "from 45 to 55 N m"},
			slips: map[string]resolver.Slip{"35-40 Nm": resolver.NeighbourCard, "35 to 40": resolver.NeighbourCard, "45-55 ft-lb": resolver.UnitMixed},
			wrong: []string{"45-55", "45 Nm", "50 Nm", "45 to 56 Nm", "at least 45 Nm", "SAE 5W-30", "fifty"},
		},
		{
			name:   "a limit",
			q:      typedKeyed("specification", "text", "at most 0.1 mm"),
			right:  []string{"at most 0.1 mm", "max 0.1mm", "max. 0,1 mm", "≤ 0.1 mm", "<0.1 mm", "0.1 mm max.", "0.1 mm or less"},
			wrong:  []string{"0.1 mm", "at least 0.1 mm", "max 0.1", "max 0.2 mm"},
			refuse: []string{"max 0.1 furlongs"},
		},
		{
			name:  "a grade",
			q:     typedKeyed("specification", "text", "SAE 10W-40", banks.Slipped{Value: "SAE 10W-30", Slip: resolver.WrongAmbient}, banks.Slipped{Value: "SAE 10W-40 low ash", Slip: resolver.NeighbourCard}),
			right: []string{"SAE 10W-40", "sae 10w40", "10W-40", "10w 40", "SAE 10 W 40"},
			slips: map[string]resolver.Slip{"10W-30": resolver.WrongAmbient, "SAE 10W40 low-ash": resolver.NeighbourCard, "10W-40 low ash": resolver.NeighbourCard},
			wrong: []string{"SAE 40", "10", "SAE 1 0W-40"},
		},
		{
			name:  "a viscosity class",
			q:     typedKeyed("specification", "text", "ISO VG 46", banks.Slipped{Value: "ISO VG 68", Slip: resolver.WrongAmbient}),
			right: []string{"ISO VG 46", "VG46", "iso-vg 46"},
			slips: map[string]resolver.Slip{"VG 68": resolver.WrongAmbient},
			wrong: []string{"46", "ISO 46", "VG 4-6"},
		},
		{
			name:  "words",
			q:     typedKeyed("read-code", "code", "cab and bare frame"),
			right: []string{"cab and bare frame", "Cab and Bare Frame", "cab, and bare frame"},
			wrong: []string{"cab", "bare frame"},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := NewGrader(&c.q, Rules{})
			for _, given := range c.right {
				if s, err := g.Grade(given); err != nil || s.Verdict != Right {
					t.Errorf("%q is %s %v (%v), want right", given, s.Verdict, s.Slip, err)
				}
			}
			for given, slip := range c.slips {
				if s, err := g.Grade(given); err != nil || s.Verdict != Wrong || s.Slip != slip || !s.Known {
					t.Errorf("%q is %s %v (%v), want %v", given, s.Verdict, s.Slip, err, slip)
				}
			}
			for _, given := range c.wrong {
				if s, err := g.Grade(given); err != nil || s.Verdict != Wrong || s.Known || !strings.Contains(s.Says, nextTime) {
					t.Errorf("%q is %s %v, says %q (%v), want unrecognised", given, s.Verdict, s.Slip, s.Says, err)
				}
			}
			for _, given := range c.refuse {
				if s, err := g.Grade(given); err == nil {
					t.Errorf("%q is %s, want it refused", given, s.Verdict)
				}
			}
		})
	}
}

// A wrong answer says what was done wrong, where the right path goes, and what
// to do next time, in one sentence each.
func TestSays(t *testing.T) {
	q := typedKeyed("edition", "code", "56-R-245-B", banks.Slipped{Value: "56-R-245-A", Slip: resolver.SupersededEdition})
	q.Trace = []banks.TraceLine{
		{Step: resolver.ClassifyStep, Result: "repair"}, {Step: resolver.GroupStep, Result: "LB Lift cylinders"}, {Step: resolver.EditionStep, Result: "56-R-245-B"},
	}
	s, _ := Grade(&q, "56-R-245-A", Rules{})
	want := "You used an edition that another one has superseded, or the edition before or after. At the step “edition” the way leads to: 56-R-245-B. Next time: Check for a later edition before you use the one at hand."
	if s.Says != want || s.Step != resolver.EditionStep || s.Trace != q.Trace[2] {
		t.Errorf("a slip says %q at %v", s.Says, s.Trace)
	}
	s, _ = Grade(&q, "40-X-1", Rules{})
	want = "The slip is not recognised. At the step “edition” the way leads to: 56-R-245-B. Next time: Go through the trace and find the step at which your way parts from it."
	if s.Says != want || s.Step != resolver.EditionStep || s.Known {
		t.Errorf("what is not recognised says %q", s.Says)
	}
}

// The step at which an answer leaves the right path is that of its slip, and
// the line of the trace is the first at which that shows.
func TestTraceAt(t *testing.T) {
	q := &banks.Question{Trace: []banks.TraceLine{{Step: resolver.CodeStep, Result: "a"}, {Step: resolver.GroupStep, Result: "b"}, {Step: resolver.AmendStep, Result: "none"}}}
	for step, want := range map[resolver.Step]string{
		resolver.ClassifyStep: "a", resolver.CodeStep: "a", resolver.CardStep: "b", resolver.GroupStep: "b", resolver.LocationStep: "none",
	} {
		if got := traceAt(q, step).Result; got != want {
			t.Errorf("%s: %q, want %q", step, got, want)
		}
	}
	if got := traceAt(&banks.Question{}, resolver.CodeStep); got != (banks.TraceLine{}) {
		t.Errorf("without a trace: %v", got)
	}
}

// Options may be named, where they cannot be letters.
func TestOptionsByName(t *testing.T) {
	due := &banks.Question{
		ID: "s", Kind: "due", Form: banks.SomeOf,
		Options: []banks.Option{
			{Text: "K1 250-hour service", Value: "K1", Right: true}, {Text: "OL Engine oil service", Value: "OL", Right: true},
			{Text: "K3 1000-hour service", Value: "K3", Slip: resolver.WrongZero}, {Text: "XJ Wiper service", Value: "XJ", Slip: resolver.OneCounter},
		},
	}
	for _, given := range []string{"AB", "b a", "A, B", "A and B", "K1, OL", "ol k1", "K1 250-hour service, OL Engine oil service", "options A + B", "A: K1 250-hour service, B", "А, В" /* Cyrillic */, "Ａ／Ｂ"} {
		if s, err := Grade(due, given, Rules{}); err != nil || s.Verdict != Right {
			t.Errorf("%q is %s (%v)", given, s.Verdict, err)
		}
	}
	for _, given := range []string{"E", "A, E", "1, 2", "K9", "Engine oil service", "all", "K1 K9", "?", "A?"} {
		if s, err := Grade(due, given, Rules{}); err == nil {
			t.Errorf("%q is %s, want it refused", given, s.Verdict)
		}
	}
	one := &banks.Question{
		ID: "o", Kind: "group", Form: banks.OneOf,
		Options: []banks.Option{
			{Text: "L Loader", Value: "L", Slip: resolver.SiblingGroup}, {Text: "C Cab", Value: "C", Slip: resolver.SiblingGroup},
			{Text: "LD Loader control", Value: "LD", Right: true}, {Text: "AC Axle", Value: "AC", Slip: resolver.SiblingGroup},
		},
	}
	for given, want := range map[string]string{
		"c": "LD Loader control", "C)": "LD Loader control", "LD": "LD Loader control", "ld": "LD Loader control", "loader  control": "", "L Loader": "L Loader",
		"LD Loader control": "LD Loader control", "B": "C Cab", "C: LD Loader control": "LD Loader control",
		"L":          "", // a mistyped letter, or the group
		"AC":         "", // two marks, or the group
		"C: L Cab":   "",
		"A LD":       "",
		"B or maybe": "",
	} {
		s, err := Grade(one, given, Rules{})
		if (err == nil) != (want != "") || err == nil && s.Given != want {
			t.Errorf("%q is %q (%v), want %q", given, s.Given, err, want)
		}
	}
}
