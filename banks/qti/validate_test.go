package qti_test

import (
	"bytes"
	"strings"
	"testing"

	"rightpage/banks"
	"rightpage/banks/qti"
)

// Every rule names its source, and no element has two.
func TestRulesNameTheirSources(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range qti.Rules() {
		if r.Source == "" {
			t.Errorf("the rule for %s names no source", r.Element)
		}
		if seen[r.Element] {
			t.Errorf("%s has two rules", r.Element)
		}
		seen[r.Element] = true
		for _, p := range r.Content {
			if len(p.Elements) == 0 || p.Least < 0 || p.Most >= 0 && p.Most < p.Least {
				t.Errorf("%s: a part of its content is %+v", r.Element, p)
			}
		}
	}
	for _, r := range qti.Rules() {
		for _, p := range r.Content {
			for _, e := range p.Elements {
				if !seen[e] && e != "itemTemplate" && e != "toolVendor" && e != "catalog" && e != "qti-response-else" {
					t.Errorf("%s may hold %s, for which there is no rule", r.Element, e)
				}
			}
		}
	}
}

// The rules find what is wrong: each package is broken in one way.
func TestValidateFindsFaults(t *testing.T) {
	tests := []struct {
		name, file string
		form       banks.Form
		from, to   string
		says       string
	}{
		{"attribute missing", ".xml", banks.OneOf, ` time-dependent="false"`, "", "lacks the attribute time-dependent"},
		{"attribute unknown", ".xml", banks.OneOf, ` time-dependent=`, ` colour="red" time-dependent=`, "has the attribute colour"},
		{"attribute of the old version", ".xml", banks.OneOf, ` time-dependent=`, ` timeDependent=`, "has the attribute timeDependent"},
		{"element of the old version", ".xml", banks.OneOf, `qti-prompt>`, `prompt>`, "no rule for the element prompt"},
		{"another namespace", ".xml", banks.OneOf, `imsqtiasi_v3p0"`, `imsqti_v2p1"`, "the root is qti-assessment-item of"},
		{"feedback before the body", ".xml", banks.OneOf, `<qti-item-body>`, `<qti-modal-feedback outcome-identifier="SOLUTION" identifier="a" show-hide="show"/><qti-item-body>`, "where it may not stand"},
		{"text in the body", ".xml", banks.OneOf, `<qti-item-body>`, `<qti-item-body>Hello`, `holds the text "Hello"`},
		{"prompt after the choices", ".xml", banks.OneOf, `</qti-choice-interaction>`, `<qti-prompt>x</qti-prompt></qti-choice-interaction>`, "where it may not stand"},
		{"declared twice", ".xml", banks.OneOf, `identifier="MAXSCORE"`, `identifier="SCORE"`, "SCORE is declared twice"},
		{"response not declared", ".xml", banks.OneOf, `response-identifier="RESPONSE"`, `response-identifier="OTHER"`, `bound to the response "OTHER", which is not declared`},
		{"response not bound", ".xml", banks.OneOf, `<qti-outcome-declaration`, `<qti-response-declaration identifier="X" cardinality="single" base-type="string"/><qti-outcome-declaration`, "the response X is bound to no interaction"},
		{"no identifier", ".xml", banks.OneOf, `identifier="A"`, `identifier="1 A"`, `"1 A" is no identifier`},
		{"wrong cardinality", ".xml", banks.OneOf, `cardinality="single" base-type="identifier"`, `cardinality="ordered" base-type="identifier"`, "cannot be bound to a response of cardinality ordered"},
		{"unknown cardinality", ".xml", banks.OneOf, `cardinality="single"`, `cardinality="double"`, `the cardinality of RESPONSE is "double"`},
		{"unknown base type", ".xml", banks.OneOf, `base-type="identifier"`, `base-type="letter"`, `the base type of RESPONSE is "letter"`},
		{"key that is no choice", ".xml", banks.OneOf, `<qti-correct-response><qti-value>`, `<qti-correct-response><qti-value>Z`, "is no choice"},
		{"two keys for one response", ".xml", banks.OneOf, `</qti-correct-response>`, `<qti-value>A</qti-value></qti-correct-response>`, "single cardinality, but 2 values"},
		{"too many choices", ".xml", banks.OneOf, `max-choices="1"`, `max-choices="3"`, "takes 3 choices into a single response"},
		{"mapping of what is no choice", ".xml", banks.SomeOf, `map-key="A"`, `map-key="Z"`, `has "Z", which is no choice`},
		{"mapping without a number", ".xml", banks.SomeOf, `mapped-value="`, `mapped-value="x`, "is no float"},
		{"mapped without mapping", ".xml", banks.OneOf, `<qti-correct identifier="RESPONSE"/>`, `<qti-map-response identifier="RESPONSE"/>`, "is mapped, but declares no mapping"},
		{"variable not declared", ".xml", banks.OneOf, `<qti-variable identifier="RESPONSE"/>`, `<qti-variable identifier="ANSWER"/>`, `the variable "ANSWER" is not declared`},
		{"outcome not declared", ".xml", banks.OneOf, `<qti-set-outcome-value identifier="SCORE">`, `<qti-set-outcome-value identifier="POINTS">`, `the outcome "POINTS" is not declared`},
		{"feedback not declared", ".xml", banks.OneOf, `outcome-identifier="SOLUTION"`, `outcome-identifier="HINT"`, `the outcome "HINT"`},
		{"feedback neither shown nor hidden", ".xml", banks.OneOf, `show-hide="show"`, `show-hide="maybe"`, `show-hide is "maybe"`},
		{"one operand", ".xml", banks.OneOf, `<qti-correct identifier="RESPONSE"/>`, ``, "ends too soon"},
		{"field in a body", ".xml", banks.Typed, `<p><qti-text-entry-interaction`, `<qti-text-entry-interaction response-identifier="RESPONSE"/><p><qti-text-entry-interaction`, "where it may not stand"},
		{"two fields for a response", ".xml", banks.Typed, `<p><qti-text-entry-interaction`, `<p><qti-text-entry-interaction response-identifier="RESPONSE"/><qti-text-entry-interaction`, "bound to two interactions"},
		{"number that is none", ".xml", banks.Number, `<qti-correct-response><qti-value>`, `<qti-correct-response><qti-value>x`, "is no float"},
		{"tolerance mode", ".xml", banks.Number, `tolerance-mode="exact"`, `tolerance-mode="close"`, `tolerance-mode is "close"`},
		{"tolerance missing", ".xml", banks.Number, `tolerance-mode="exact"`, `tolerance-mode="absolute"`, "is not one number or two"},
		{"schema", "imsmanifest.xml", banks.OneOf, `QTI Package`, `Package`, `the schema is "Package"`},
		{"file missing", "imsmanifest.xml", banks.OneOf, `<file href="items/`, `<file href="things/`, "is not in the package"},
		{"dependency missing", "imsmanifest.xml", banks.OneOf, `identifierref="EXTENSION-`, `identifierref="NONE-`, "which there is not"},
		{"identifier twice", "imsmanifest.xml", banks.OneOf, `identifier="EXTENSION-`, `identifier="ITEM-`, "stands twice"},
		{"metadata in another order", "imsmanifest.xml", banks.OneOf, `<imsqti:timeDependent>false</imsqti:timeDependent>`, `<imsqti:toolName>x</imsqti:toolName><imsqti:timeDependent>false</imsqti:timeDependent>`, "where it may not stand"},
		{"organizations missing", "imsmanifest.xml", banks.OneOf, `<organizations/>`, ``, "where it may not stand"},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			pkg := export(t, find(t, c.form))
			if err := qti.Validate(bytes.NewReader(pkg), int64(len(pkg))); err != nil {
				t.Fatalf("the package is wrong before the edit: %v", err)
			}
			pkg = change(t, pkg, c.file, func(s string) string {
				if c.from == "qti-prompt>" { // both tags
					return strings.ReplaceAll(s, c.from, c.to)
				}
				return strings.Replace(s, c.from, c.to, 1)
			})
			if err := qti.Validate(bytes.NewReader(pkg), int64(len(pkg))); err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want an error that says %q", err, c.says)
			}
		})
	}
}
