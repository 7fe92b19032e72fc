package catalog

import (
	"path"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestPatternsCoverCodes(t *testing.T) {
	for _, tt := range []struct {
		pattern Pattern
		code    string
		want    bool
	}{
		{"", "T410", true},
		{"  ", "T410", true},
		{"T410", "T410", true},
		{"T410", "T4100", false},
		{"t-4.10", "T 410", true},
		{"T4*", "T410", true},
		{"T4*", "T4", true},
		{"T4*", "T510", false},
		{"*10", "T410", true},
		{"T?10", "T410", true},
		{"T?10", "T10", false},
		{"T410;T420", "T420", true},
		{" T410 ; T420 ", "T420", true},
		{"T410;;", "T430", false},
		{"T4*;!T430", "T420", true},
		{"T4*;!T430", "T430", false},
		{"!T430;T4*", "T430", false}, // an exception wins wherever it stands
		{"!T430", "T420", true},
		{"!T430", "T430", false},
		{"!T4*", "T430", false},
		{"*", "", true},
		{"?", "", false},
		{"T*1*0", "T4110", true},
		{"T*1*0", "T4210", true},
		{"T*1*0", "T4200", false},
	} {
		if got := tt.pattern.Match(tt.code); got != tt.want {
			t.Errorf("pattern %q, code %q: %v, want %v", tt.pattern, tt.code, got, tt.want)
		}
	}
}

func TestFoldLeavesOutWhatWritersAddToCodes(t *testing.T) {
	for in, want := range map[string]string{"": "", "T410": "T410", "t-410": "T410", "T 4.1/0": "T410", "T\u00a0410": "T410", "T‑410": "T410", "T–410": "T410", "ä1": "Ä1", "T_4": "T_4"} {
		if got := Fold(in); got != want {
			t.Errorf("Fold(%q) = %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "code")
		if once := Fold(s); Fold(once) != once {
			t.Fatalf("Fold(%q) = %q, and again %q", s, once, Fold(once))
		}
	})
}

// The standard library's path.Match has the same * and ? where no slash occurs.
func TestGlobAgreesWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pat := rapid.StringMatching(`[AB*?]{0,8}`).Draw(t, "pattern")
		code := rapid.StringMatching(`[AB]{0,8}`).Draw(t, "code")
		want, err := path.Match(pat, code)
		if err != nil {
			t.Fatal(err)
		}
		if got := glob(pat, code); got != want {
			t.Fatalf("glob(%q, %q) = %v, want %v", pat, code, got, want)
		}
	})
}

// A pattern from a hostile file must not take exponential time: this one would
// by naive backtracking never end.
func TestGlobDoesNotBacktrackWithoutBound(t *testing.T) {
	if glob(strings.Repeat("A*", 500)+"B", strings.Repeat("A", 2000)) {
		t.Error("it matches")
	}
}
