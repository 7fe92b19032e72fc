package quiz

import (
	"strings"
	"testing"
	"time"
)

func TestPersonCheck(t *testing.T) {
	good := Person{Name: "Ines Harrow", Roles: []Role{Technician, Coordinator}, Mail: "ines@wexcombe.example"}
	for _, c := range []struct {
		name   string
		change func(p *Person)
		want   string
	}{
		{"as it should be", func(*Person) {}, ""},
		{"no mailbox", func(p *Person) { p.Mail = "" }, ""},
		{"no name", func(p *Person) { p.Name = " " }, "no name"},
		{"no role", func(p *Person) { p.Roles = nil }, "no role"},
		{"unknown role", func(p *Person) { p.Roles = []Role{"owner"} }, "which there is not"},
		{"role twice", func(p *Person) { p.Roles = []Role{Manager, Manager} }, "twice"},
		{"bad mail", func(p *Person) { p.Mail = "ines" }, "no mail address"},
	} {
		p := good
		c.change(&p)
		wantCheck(t, c.name, p.Check(), c.want)
	}
}

func TestPersonIsActiveUntilLeaving(t *testing.T) {
	left := time.Date(2031, 5, 1, 0, 0, 0, 0, time.UTC)
	p := Person{Left: left}
	if !p.Active(left.Add(-time.Second)) || p.Active(left) || !(Person{}).Active(left) {
		t.Error("a person is active until the time of leaving, and always without one")
	}
}

func TestSiteCheck(t *testing.T) {
	wantCheck(t, "good", Site{Name: "Wexcombe North", Zone: "Europe/Madrid"}.Check(), "")
	wantCheck(t, "no zone", Site{Name: "Wexcombe North"}.Check(), "")
	wantCheck(t, "no name", Site{}.Check(), "no name")
	wantCheck(t, "bad zone", Site{Name: "x", Zone: "Tarnfell/Hill"}.Check(), "time zone")
}

func TestPasswords(t *testing.T) {
	p := DefaultPasswords()
	hash, err := p.Hash("four words of cafe\u0301") // e and a combining accent
	if err != nil || !strings.HasPrefix(hash, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Fatalf("hash %q, error %v", hash, err)
	}
	if match, again, err := p.Match("four words of caf\u00e9", hash); !match || again || err != nil {
		t.Errorf("the same password, composed otherwise: %v %v %v", match, again, err)
	}
	if match, _, err := p.Match("four words of cafe", hash); match || err != nil {
		t.Errorf("another password: %v %v", match, err)
	}
	stronger := p
	stronger.params.Iterations = 3
	if match, again, _ := stronger.Match("four words of caf\u00e9", hash); !match || !again {
		t.Error("a hash weaker than the setting is to be made again")
	}
	if _, _, err := p.Match("x", "$argon2id$broken"); ErrorCode(err) != Internal {
		t.Errorf("a broken hash: %v", err)
	}
}

func TestCheckPassword(t *testing.T) {
	for _, c := range []struct{ password, want string }{
		{"brake-bolt-manual", ""},
		{"elevenchars", "too short"},
		{strings.Repeat("é", MaxPassword), ""},
		{strings.Repeat("é", MaxPassword+1), "too long"},
		{"bad \xff utf-8 text", "too short or too long"},
		{"INES@wexcombe.example", "is the login"},
		{"ines harrow-quill", "is the login or the name"},
	} {
		wantCheck(t, c.password, CheckPassword(c.password, "ines@wexcombe.example", "Ines Harrow-Quill"), c.want)
	}
}

func TestFoldLogin(t *testing.T) {
	if FoldLogin(" Jose\u0301 ") != FoldLogin("JOS\u00c9") || FoldLogin("STRASSE") != FoldLogin("straße") {
		t.Error("case, composed accents and space are to be folded")
	}
}

// wantCheck compares an error with a part of its text, or with none.
func wantCheck(t *testing.T, name string, err error, want string) {
	t.Helper()
	switch {
	case want == "" && err != nil:
		t.Errorf("%s: %v", name, err)
	case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
		t.Errorf("%s: error %v, want one that says %q", name, err, want)
	case want != "" && ErrorCode(err) != Invalid:
		t.Errorf("%s: code %s", name, ErrorCode(err))
	}
}
