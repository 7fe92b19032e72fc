package resolver

import "rightpage/banks/catalog"

// StepValue gives what was chosen at a step of an answer's path: a value that
// identifies it, a text for people, and whether the step was reached and has a
// value. The answer must be one to q.
func (r *Resolver) StepValue(q *Query, a *Answer, s Step) (value, text string, ok bool) {
	v := a.Path[s]
	if v < 0 {
		if s == AmendStep && a.Path[LocationStep] >= 0 {
			return "none", "none", true
		}
		return "", "", false
	}
	t := r.t
	switch s {
	case ClassifyStep:
		c := r.className(int8(v))
		return c, c, true
	case CodeStep:
		u := r.units[0]
		if a.Path[CardStep] < 0 {
			u = r.units[r.primary]
		}
		return u.codes[v], u.codes[v], true
	case CardStep:
		text := r.cardText(v)
		return text, text, true
	case ComponentStep:
		switch q.Task {
		case SpecTask:
			n := r.quantityName(v)
			return n, n, true
		case ComplaintTask:
			return t.Guide[v].System, t.Guide[v].System, true
		case TroubleTask:
			c := &t.TroubleCodes[v]
			return c.System + "/" + c.Code, c.System + " " + c.Code, true
		case DueTask:
			return r.serviceNm[v], r.serviceNm[v], true
		}
		if a.Path[GroupStep] < 0 && len(a.Services) > 0 {
			return r.serviceNm[v], r.serviceNm[v], true
		}
		return t.Components[v].Term, t.Components[v].Term, true
	case GroupStep:
		return t.Groups[v].Code, t.Groups[v].Code + " " + t.Groups[v].Title, true
	case KeyStep:
		return r.units[v].name, r.units[v].name, true
	case PublicationStep:
		return t.Publications[v].Series, t.Publications[v].Series + " " + t.Publications[v].Title, true
	case EditionStep:
		return t.Publications[v].ID, t.Publications[v].ID, true
	case LocationStep:
		return r.locationValue(q, a, v)
	case AmendStep:
		return t.Bulletins[v].ID, t.Bulletins[v].ID, true
	}
	return "", "", false
}

func (r *Resolver) locationValue(q *Query, a *Answer, row int32) (value, text string, ok bool) {
	t := r.t
	var pub string
	var loc catalog.Location
	switch {
	case q.Task == SpecTask:
		pub, loc = t.Specifications[row].Publication, t.Specifications[row].Location
	case q.Task == ComplaintTask:
		s := &t.Tests[row]
		text = "chapter " + s.Chapter + " step " + s.Step
		return s.Publication + " " + text + s.Side, text, true
	case q.Task == TroubleTask:
		pub, loc = t.TroubleCodes[row].Publication, t.TroubleCodes[row].Location
	case len(a.Services) > 0:
		pub, loc = t.Operations[row].Publication, t.Operations[row].Location
	default:
		pub, loc = t.Procedures[row].Publication, t.Procedures[row].Location
	}
	text = PlaceText(loc)
	return pub + " " + text, text, true
}

// Place says where to read an item: the edition and the place in it, or the
// bulletin that takes its place.
func (r *Resolver) Place(it Item) string {
	t := r.t
	if it.Bulletin >= 0 {
		return "bulletin " + t.Bulletins[it.Bulletin].ID
	}
	if it.Publication < 0 {
		return "no place"
	}
	pub := t.Publications[it.Publication].ID
	var loc string
	if it.Row >= 0 {
		switch it.Table {
		case ProcedureTable:
			loc = PlaceText(t.Procedures[it.Row].Location)
		case OperationTable:
			loc = PlaceText(t.Operations[it.Row].Location)
		case SpecificationTable:
			loc = PlaceText(t.Specifications[it.Row].Location)
		case TroubleTable:
			loc = PlaceText(t.TroubleCodes[it.Row].Location)
		case TestTable:
			loc = "chapter " + t.Tests[it.Row].Chapter + " step " + t.Tests[it.Row].Step
			if side := t.Tests[it.Row].Side; side != "" {
				loc += ", " + side + " side"
			}
		}
	}
	if loc == "" {
		return pub
	}
	return pub + ", " + loc
}

// Record names the record of an item as table:key.
func (r *Resolver) Record(it Item) string { return r.recordName(it) }

// Hazards lists the hazard words that the records of an answer carry, in the
// order in which they first occur.
func (r *Resolver) Hazards(a *Answer) []string {
	var out []string
	add := func(list []string) {
		for _, h := range list {
			found := false
			for _, o := range out {
				found = found || o == h
			}
			if !found {
				out = append(out, h)
			}
		}
	}
	for _, it := range a.Items {
		if it.Row < 0 {
			continue
		}
		switch it.Table {
		case ProcedureTable:
			add(r.t.Procedures[it.Row].Hazards)
		case OperationTable:
			add(r.t.Operations[it.Row].Hazards)
		case TestTable:
			add(r.t.Tests[it.Row].Hazards)
		}
	}
	return out
}
