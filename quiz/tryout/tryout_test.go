package tryout

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rightpage/banks/resolver"
)

var day = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

func config(t *testing.T, path string) Config {
	return Config{Catalog: path, Out: t.TempDir(), Organisation: "Demonstration workshop", Now: day, Seed: 1}
}

// The main job on engines: every answer is accounted for, somebody passes and
// somebody does not, and the certificate is genuine while its copy is not.
func TestRun(t *testing.T) {
	cfg := config(t, "../../testdata/quillan")
	var told bytes.Buffer
	sum, err := Run(context.Background(), cfg, &told)
	if err != nil {
		t.Fatalf("%v\n%s", err, told.String())
	}
	if len(sum.Orders) != 3 || sum.Questions != bankSize || sum.Quiz != quizSize {
		t.Errorf("%d orders, %d questions, a quiz of %d", len(sum.Orders), sum.Questions, sum.Quiz)
	}
	// Twelve people with twenty answers each; beyond these, a question that
	// does not exist, a second answer that contradicts the first, and two marks.
	if sum.Graded+sum.Refused != 12*quizSize+3 || sum.Refused != 4 {
		t.Errorf("%d answers graded, %d refused", sum.Graded, sum.Refused)
	}
	passed := 0
	for i, p := range sum.People {
		if p.Passed != (p.Points/float64(p.Of) >= cutShare) {
			t.Errorf("%s has %g of %d: %v", p.Person, p.Points, p.Of, p.Passed)
		}
		if i > 0 && p.Points > sum.People[i-1].Points {
			t.Errorf("%s comes after people with fewer points", p.Person)
		}
		if p.Passed {
			passed++
		}
	}
	if len(sum.People) != 12 || passed == 0 || passed == 12 {
		t.Errorf("%d people, of whom %d passed", len(sum.People), passed)
	}
	if !sum.Verified || sum.Forgery != "altered" {
		t.Errorf("verified %v, forgery %s", sum.Verified, sum.Forgery)
	}
	for _, name := range sum.Files {
		if info, err := os.Stat(filepath.Join(cfg.Out, name)); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
		if !strings.Contains(told.String(), name) {
			t.Errorf("%s is not told", name)
		}
	}
	if n := strings.Count(told.String(), "\n"); n > 220 {
		t.Errorf("%d lines are too many to be read in one sitting", n)
	}
}

// The same catalog gives the same files, but for the certificate: its key is a
// new one each time.
func TestRunIsRepeatable(t *testing.T) {
	var outs [2]string
	var sum *Summary
	for i := range outs {
		cfg := config(t, "../../testdata/example")
		var err error
		if sum, err = Run(context.Background(), cfg, io.Discard); err != nil {
			t.Fatal(err)
		}
		outs[i] = cfg.Out
	}
	for _, name := range sum.Files {
		var data [2][]byte
		for i, dir := range outs {
			var err error
			if data[i], err = os.ReadFile(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
		}
		same := bytes.Equal(data[0], data[1])
		if signed := name == "certificate.pdf" || name == "issuer.txt"; same == signed {
			t.Errorf("%s: the same twice is %v", name, same)
		}
	}
}

// It ends at an interrupt, at a catalog with errors, and where it cannot write.
func TestRunEnds(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Run(ctx, config(t, "../../testdata/example"), io.Discard); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
	if _, err := Run(context.Background(), config(t, "../../testdata/broken"), io.Discard); err == nil || !strings.Contains(err.Error(), "broken") {
		t.Errorf("a broken catalog: %v", err)
	}
	cfg := config(t, "../../testdata/example")
	cfg.Out = filepath.Join(cfg.Out, "nowhere")
	if _, err := Run(context.Background(), cfg, io.Discard); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a folder that is not there: %v", err)
	}
}

// Steps of a trace that repeat themselves are told once.
func TestTraceLines(t *testing.T) {
	step := resolver.TraceStep{Step: resolver.PublicationStep, Input: "power", Result: "does not apply"}
	last := resolver.TraceStep{Step: resolver.LocationStep, Input: "chapter 4", Result: "step 1", Branch: "KT18"}
	got := strings.Join(traceLines(resolver.Trace{step, step, step, last}), "|")
	if want := "publication: power → does not apply (3 records)|if it is KT18, location: chapter 4 → step 1"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
