package paper

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

func day(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

func sampleProgress() ProgressReport {
	p := ProgressReport{
		Organisation: "Wexcombe Estate & Farm Services", Person: "Teun Hallewas", Site: "Lower Wexcombe workshop",
		From: day("2031-01-06"), To: day("2031-03-30"), Catalog: "Tarnfell service literature, revision 2031-02",
		Summary: "Teun answered 312 lookups in 11 of 12 weeks. Edition for a build date went from 58 % to 86 %, " +
			"the largest step of the quarter.",
		MasteredAt: 0.85, Confidence: 0.9,
		Skills: []SkillProgress{
			{"Reading a product number", 0.90, 0.97, 0.93, 0.99, 41, ""},
			{"Edition for a build date", 0.58, 0.86, 0.79, 0.91, 92, "Limit read on the wrong side"},
			{"Group of a component", 0.71, 0.80, 0.71, 0.87, 55, "Component taken for its parent"},
			{"Service operations due", 0.66, 0.72, 0.61, 0.81, 48, "Only one of the two counters"},
			{"Limits under a condition", 0.49, 0.57, 0.44, 0.69, 40, "Wrong ambient band"},
			{"Trouble code to test step", -1, 0.78, 0.62, 0.89, 36, "Chapter taken for step"},
		},
		Next: []string{
			"Limits under a condition: a set of 12 on ambient temperature bands, about 15 minutes.",
			"Service operations due: a set of 10 with both counters running, about 20 minutes.",
		},
		Attempts: []AttemptLine{
			{day("2031-01-20"), "Tarnfell lookup, first steps", "17 of 20", "passed"},
			{day("2031-02-17"), "Tarnfell lookup, workshop level", "27 of 40", "not passed, 30 needed"},
			{day("2031-03-24"), "Tarnfell lookup, workshop level", "34 of 40", "passed"},
		},
	}
	for i, n := range [][2]int{{12, 9}, {18, 10}, {20, 9}, {0, 0}, {16, 8}, {22, 9}, {24, 8}, {19, 5}, {25, 6}, {21, 4}, {28, 5}, {30, 4}} {
		p.Weeks = append(p.Weeks, WeekOfPractice{Starts: p.From.AddDate(0, 0, 7*i), Right: n[0], Wrong: n[1]})
	}
	return p
}

func sampleReadiness() ReadinessReport {
	return ReadinessReport{
		Organisation: "Wexcombe Estate & Farm Services", Day: day("2031-03-30"), Confidence: 0.9,
		Courses: []CourseReadiness{
			{"Tarnfell hydraulics, week 1", "Harrowgate training barn", day("2031-05-12"),
				"Tarnfell lookup, workshop level, 30 of 40 or better", 0.8, []PersonReadiness{
					{"Maren Ostvold", "Lower Wexcombe", Ready, 0.96, 0.91, 0.99, "", ""},
					{"Teun Hallewas", "Lower Wexcombe", Ready, 0.84, 0.74, 0.91, "Limits under a condition is weakest, at 57 %", ""},
					{"Ilse Granholm", "Upper Wexcombe", Close, 0.71, 0.58, 0.82, "Edition for a build date is at 63 %", "about 3 hours of practice on that skill"},
					{"Piers Undrell", "Combe Mill", NotReady, 0.34, 0.22, 0.48, "Four skills are below the mark; service operations due is at 41 %", "about 11 hours of practice, or a later course"},
					{"Anselm Yeo", "Combe Mill", NoData, 0, 0, 0, "No quiz taken since joining", "a first quiz of 20 questions"},
				}},
			{"Quillan outboards, fuel systems", "", day("2031-06-02"), "Quillan lookup, 24 of 30 or better", 0.8, []PersonReadiness{
				{"Maren Ostvold", "Lower Wexcombe", Close, 0.77, 0.66, 0.86, "Serial breaks are at 70 %", "about 1 hour of practice"},
			}},
		},
	}
}

func sampleNotice() Notice {
	return Notice{
		Organisation: "Wexcombe Estate & Farm Services", CatalogTitle: "Tarnfell service literature",
		Was: "2031-02", Now: "2031-09", InForce: day("2031-09-08"),
		Headline: "TC machines built from June 2029 have a new axle book: TR-214.",
		Changes: []NoticeChange{
			{"Replaced", "Front axle oil seal, renew", "TC38 and TC44, built from June 2029", "TR-210, section 4-12", "TR-214, section 3-2", ""},
			{"Value changed", "Engine oil quantity with filter", "Engine K3-18, serial 204411 and later", "3.4 L", "3.6 L", ""},
			{"New", "Lift arm cylinder, renew", "LD20 loaders", "", "TR-216, section 5-1", "Stored energy and lifting: lower and support the arm, release the pressure as the book says."},
			{"Withdrawn", "Fuel pump bench test", "All models", "TR-118, section 2-9", "", "Fuel: no open flame."},
			{"Moved", "Cab air filter, renew", "TC44 with cab", "MR-020, page 31", "MR-021, page 18", ""},
		},
		LookupsChanged: 214, Lookups: 6120, CertificatesOutdated: 3,
		URL: "https://training.wexcombe.example/catalog/tarnfell/2031-09",
	}
}

// samples are one of each document of this file, by name.
func samples() map[string]func(io.Writer) error {
	return map[string]func(io.Writer) error{
		"certificate": func(w io.Writer) error { return WriteCertificate(w, sampleCertificate()) },
		"progress":    func(w io.Writer) error { return WriteProgressReport(w, sampleProgress()) },
		"readiness":   func(w io.Writer) error { return WriteReadinessReport(w, sampleReadiness()) },
		"notice":      func(w io.Writer) error { return WriteNotice(w, sampleNotice()) },
	}
}

func TestReportsAreDeterministic(t *testing.T) {
	for name, write := range samples() {
		t.Run(name, func(t *testing.T) {
			var first, again bytes.Buffer
			if err := write(&first); err != nil {
				t.Fatal(err)
			}
			if err := write(&again); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(first.Bytes(), again.Bytes()) {
				t.Error("printed twice, the bytes differ")
			}
		})
	}
}

func TestReportsRefuseWhatIsMissing(t *testing.T) {
	tests := []struct {
		name string
		err  error
	}{
		{"progress", WriteProgressReport(io.Discard, ProgressReport{Person: "x"})},
		{"readiness", WriteReadinessReport(io.Discard, ReadinessReport{Organisation: "x"})},
		{"notice", WriteNotice(io.Discard, Notice{CatalogTitle: "x"})},
	}
	for _, tt := range tests {
		if tt.err == nil || !strings.Contains(tt.err.Error(), "needs its") {
			t.Errorf("%s: got %v, want what is missing", tt.name, tt.err)
		}
	}
}

func TestReportsWithoutContentStillPrint(t *testing.T) {
	for name, err := range map[string]error{
		"progress": WriteProgressReport(io.Discard, ProgressReport{Person: "x", Organisation: "y", From: day("2031-01-01"), To: day("2031-01-31")}),
		"readiness": WriteReadinessReport(io.Discard, ReadinessReport{Organisation: "y", Day: day("2031-01-01"),
			Courses: []CourseReadiness{{Course: "c", Starts: day("2031-02-01")}}}),
		"notice": WriteNotice(io.Discard, Notice{CatalogTitle: "x", Now: "2", InForce: day("2031-01-01")}),
	} {
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestPercentNeverClaimsCertainty(t *testing.T) {
	for share, want := range map[float64]string{0: "0\u00a0%", 0.004: "<1\u00a0%", 0.5: "50\u00a0%", 0.996: ">99\u00a0%", 1: "100\u00a0%"} {
		if got := percent(share); got != want {
			t.Errorf("percent(%v) = %q, want %q", share, got, want)
		}
	}
}

// longNotice runs over several pages.
func longNotice() Notice {
	n := sampleNotice()
	n.Changes = nil
	for i := range 60 {
		c := sampleNotice().Changes[i%5]
		c.Subject = fmt.Sprintf("%s (%d)", c.Subject, i+1)
		n.Changes = append(n.Changes, c)
	}
	return n
}

// Nothing is drawn below the foot of a page, however long the texts are.
func TestLongTextsStayOnThePage(t *testing.T) {
	long := strings.Repeat("a very long note that goes on ", 120)
	n := sampleNotice()
	n.Headline, n.Changes[1].Subject, n.Changes[1].Applies, n.Changes[1].Hazard = long, long, long, long
	p := sampleProgress()
	p.Skills[0].Slip, p.Next[0], p.Attempts[0].Quiz = long, long, long
	c := sampleReadiness()
	c.Courses[0].People[0].Why, c.Courses[0].Requirement = long, long
	for name, write := range map[string]func(io.Writer) error{
		"notice":    func(w io.Writer) error { return WriteNotice(w, n) },
		"progress":  func(w io.Writer) error { return WriteProgressReport(w, p) },
		"readiness": func(w io.Writer) error { return WriteReadinessReport(w, c) },
	} {
		var buf bytes.Buffer
		if err := write(&buf); err != nil {
			t.Fatal(err)
		}
		path := onDisk(t, name+".pdf", buf.Bytes())
		text := outside(t, "pdftotext", "-bbox", path, "-")
		page := 0.0
		for _, line := range strings.Split(text, "\n") {
			if m := bboxPage.FindStringSubmatch(line); m != nil {
				page, _ = strconv.ParseFloat(m[1], 64)
			}
			if m := bboxWord.FindStringSubmatch(line); m != nil {
				if bottom, _ := strconv.ParseFloat(m[1], 64); page == 0 || bottom > page-20 {
					t.Errorf("%s: %q ends at %v of %v points", name, m[2], m[1], page)
				}
			}
		}
	}
}

var (
	bboxPage = regexp.MustCompile(`<page width="[\d.]+" height="([\d.]+)"`)
	bboxWord = regexp.MustCompile(`<word .*yMax="([\d.]+)">(.*)</word>`)
)
