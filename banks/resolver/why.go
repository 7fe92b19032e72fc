package resolver

import (
	"strings"

	"rightpage/banks/catalog"
)

// why says in words why a record does not, or may not, fit a branch.
func (x *run) why(b *branch, k keyed, pattern catalog.Pattern) string {
	u := x.r.units[k.unit]
	s := x.state(b, k.unit)
	if s.code >= 0 && !x.r.matches(k.pat, s.code) {
		return "applies to " + u.name + " " + string(pattern) + ", not to " + u.codes[s.code]
	}
	var parts []string
	if s.code < 0 && k.pat >= 0 {
		parts = append(parts, "the "+u.name+" is not known: read its plate")
	}
	if k.ef >= 0 {
		e := &x.r.efs[k.ef]
		limit := x.r.meta.Limits.Format(e.src)
		switch x.limits(e, b.built, s.serial) {
		case catalog.Outside:
			parts = append(parts, "applies "+limit+"; this one was built "+spanText(b.built)+serialText(s.serial))
		case catalog.Partly:
			parts = append(parts, "applies "+limit+"; all that is known is built "+spanText(b.built)+serialText(s.serial))
		case catalog.Within:
			parts = append(parts, "applies "+limit)
		}
	}
	if len(parts) == 0 {
		return "applies to all"
	}
	return strings.Join(parts, "; ")
}

// recordName names the record of an item as table:key.
func (r *Resolver) recordName(it Item) string {
	t := r.t
	if it.Row < 0 {
		if it.Operation != "" {
			return "operation:" + it.Operation
		}
		if it.Publication >= 0 {
			return "publication:" + t.Publications[it.Publication].ID
		}
		return ""
	}
	switch it.Table {
	case ProcedureTable:
		return "procedure:" + t.Procedures[it.Row].ID
	case OperationTable:
		return "operation:" + t.Operations[it.Row].Number
	case SpecificationTable:
		return "specification:" + t.Specifications[it.Row].ID
	case TestTable:
		s := &t.Tests[it.Row]
		return "test:" + s.Publication + "/" + s.Chapter + "/" + s.Step
	case TroubleTable:
		c := &t.TroubleCodes[it.Row]
		return "trouble:" + c.System + "/" + c.Code
	}
	return ""
}

// tracePubs explains the choice of edition among candidates.
func (x *run) tracePubs(b *branch, cands []int32, input string) {
	s := x.tr.step(EditionStep, "of the candidate publications those whose limits hold for the build date and serial, and that none supersedes", input)
	for _, p := range cands {
		pub := &x.r.t.Publications[p]
		name := "publication:" + pub.ID
		k := x.r.pubKey[p]
		f := x.fit(b, k)
		over := x.superseder(b, p)
		switch {
		case f == catalog.Outside:
			s.consider(name, pub.Title, RuledOut, "%s", x.why(b, k, pub.AppliesTo))
		case over >= 0:
			s.consider(name, pub.Title, RuledOut, "superseded by %s", x.r.t.Publications[over].ID)
		case f == catalog.Partly:
			s.consider(name, pub.Title, Possible, "%s", x.why(b, k, pub.AppliesTo))
			s.Result = orText(s.Result, pub.ID)
		default:
			s.consider(name, pub.Title, Chosen, "%s", x.why(b, k, pub.AppliesTo))
			s.Result = orText(s.Result, pub.ID)
		}
	}
	if s.Result == "" {
		s.Result = "no edition applies"
	}
}

func orText(a, b string) string {
	if a == "" {
		return b
	}
	return a + " or " + b
}
