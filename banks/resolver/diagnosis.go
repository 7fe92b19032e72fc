package resolver

import (
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// complaint resolves a complaint by way of the guide to a test step.
func (x *run) complaint() {
	r := x.r
	words := r.wording.words(x.q.Text)
	m, how := r.systems.find(words)
	if x.tr != nil {
		s := x.tr.step(ClassifyStep, "a complaint is looked up in the guide, which leads to diagnosis literature", x.q.Text)
		seen := map[string]bool{}
		for _, e := range m {
			if sys := r.t.Guide[e.value].System; !seen[sys] {
				seen[sys] = true
				s.consider("system:"+sys, e.term, Chosen, "%s", how)
				s.Result = orText(s.Result, sys)
			}
		}
		if len(m) == 0 {
			s.Result = "no complaint or system of the guide matches; nearest: " + joinOr(r.systems.nearest(words, 3))
		}
	}
	if len(m) == 0 {
		x.reach(ComponentStep, -1)
		x.path[ClassifyStep] = -1
		return
	}
	x.reach(ClassifyStep, int32(r.classIndex(catalog.Diagnosis)))
	if !x.vehicle() {
		return
	}
	x.eachBranch(func(b *branch) {
		for _, e := range m {
			x.next(CardStep)
			x.guide(b, e.value)
		}
	})
}

// guide follows one row of the guide.
func (x *run) guide(b *branch, row int32) {
	r := x.r
	if x.brk.Slip == SiblingGroup {
		if row = x.nearGuide(b, row); row < 0 {
			return
		}
	}
	g := &r.t.Guide[row]
	f := x.fit(b, r.guideKey[row])
	pub := r.guidePub[row]
	var s *TraceStep
	if x.tr != nil {
		s = x.tr.step(PublicationStep, "the guide's rows that fit, whose publication fits and is not superseded", g.System)
	}
	name := "guide:" + g.System + " → " + g.Publication + "/" + g.Section
	if f == catalog.Outside {
		if s != nil {
			s.consider(name, "", RuledOut, "%s", x.why(b, r.guideKey[row], g.AppliesTo))
			s.Result = "does not apply"
		}
		x.reach(ComponentStep, row)
		return
	}
	x.reach(ComponentStep, row)
	pf := x.pubFit(b, pub)
	if pf == catalog.Outside {
		if s != nil {
			why := "its publication does not apply"
			if pub >= 0 && x.superseder(b, pub) >= 0 {
				why = "its publication is superseded by " + r.t.Publications[x.superseder(b, pub)].ID
			}
			s.consider(name, "", RuledOut, "%s", why)
			s.Result = "does not apply"
		}
		x.reach(PublicationStep, -1)
		return
	}
	f = min(f, pf)
	if s != nil {
		v := Chosen
		if f == catalog.Partly {
			v = Possible
		}
		s.consider(name, r.t.Publications[pub].Title, v, "%s", x.why(b, r.guideKey[row], g.AppliesTo))
		s.Result = g.Publication + " section " + g.Section
	}
	x.reach(PublicationStep, r.seriesOf[pub])
	x.reach(EditionStep, pub)
	at := x.q.At
	if at.Chapter == "" {
		at.Chapter = g.Section
	}
	x.testSteps(b, pub, at, f)
}

// nearGuide is the row of the guide that somebody takes who looks under a
// neighbouring system: another section of the same publication. A row that does
// not apply anyhow has none.
func (x *run) nearGuide(b *branch, row int32) int32 {
	t := x.r.t.Guide
	if x.fit(b, x.r.guideKey[row]) == catalog.Outside {
		return -1
	}
	n := x.brk.Variant
	for d := 1; d < len(t); d++ {
		i := (int(row) + d) % len(t)
		if t[i].Publication == t[row].Publication && t[i].Section != t[row].Section {
			if n == 0 {
				return int32(i)
			}
			n--
		}
	}
	return -1
}

// testSteps finds the step to take: the first of the chapter, or the one that
// follows the outcome of the step just done.
func (x *run) testSteps(b *branch, pub int32, at StepAt, f catalog.Fit) {
	r := x.r
	var s *TraceStep
	if x.tr != nil {
		in := "chapter " + at.Chapter
		if x.q.Outcome != NotRun {
			in += " step " + at.Step + [...]string{"", ", as expected", ", not as expected"}[x.q.Outcome]
		}
		s = x.tr.step(LocationStep, "the chapter's first step; after a step that was as expected the next one; after one that was not, the chapter and steps it names", in)
	}
	if x.q.Outcome == NotRun {
		x.chapterSteps(b, pub, at.Chapter, nil, f, s)
		return
	}
	known := false
	for _, row := range r.chapters[chapterKey{pub, at.Chapter}] {
		t := &r.t.Tests[row]
		if t.Step != at.Step || !x.sideFits(t.Side) {
			continue
		}
		known = true
		if x.q.Outcome == Passed {
			x.stepAfter(b, pub, at, f, s)
			break
		}
		chapter, steps := t.FailChapter, t.FailSteps
		if chapter == "" {
			chapter = at.Chapter
		}
		if x.brk.Slip == ChapterForStep {
			switch {
			case x.brk.Variant == 0:
				steps = nil
			case t.FailChapter != "":
				chapter, steps = at.Chapter, []string{t.FailChapter}
			case len(steps) > 0:
				chapter, steps = steps[0], nil
			}
		}
		x.chapterSteps(b, pub, chapter, steps, f, s)
	}
	if !known && s != nil {
		s.Result = "the chapter has no such step"
	}
	if x.path[LocationStep] < 0 {
		x.reach(LocationStep, -1)
	}
}

// sideFits tells whether a step serves the side that is asked for, or, with
// the slip, the other one.
func (x *run) sideFits(side string) bool {
	want := x.q.Side
	if x.brk.Slip == OtherSide {
		switch want {
		case "left":
			want = "right"
		case "right":
			want = "left"
		}
	}
	return side == "" || want == "" || strings.EqualFold(side, want)
}

// stepAfter is the next step of the chapter in order.
func (x *run) stepAfter(b *branch, pub int32, at StepAt, f catalog.Fit, s *TraceStep) {
	next := ""
	for _, row := range x.r.chapters[chapterKey{pub, at.Chapter}] {
		t := &x.r.t.Tests[row]
		if !x.sideFits(t.Side) || catalog.CompareSteps(t.Step, at.Step) <= 0 {
			continue
		}
		if next == "" {
			next = t.Step
		}
	}
	if next == "" {
		if s != nil {
			s.Result = "the chapter ends here: all its steps were as expected"
		}
		return
	}
	x.chapterSteps(b, pub, at.Chapter, []string{next}, f, s)
}

// chapterSteps adds the named steps of a chapter, or its first.
func (x *run) chapterSteps(b *branch, pub int32, chapter string, steps []string, f catalog.Fit, s *TraceStep) {
	rows := x.r.chapters[chapterKey{pub, chapter}]
	first := ""
	if len(steps) == 0 {
		for _, row := range rows {
			if x.sideFits(x.r.t.Tests[row].Side) {
				first = x.r.t.Tests[row].Step
				break
			}
		}
	}
	for _, row := range rows {
		t := &x.r.t.Tests[row]
		in := t.Step == first
		for _, want := range steps {
			in = in || t.Step == want
		}
		if !in {
			continue
		}
		name := "test:" + t.Publication + "/" + t.Chapter + "/" + t.Step
		if !x.sideFits(t.Side) {
			if s != nil {
				s.consider(name, t.Tests, RuledOut, "is for the %s side", t.Side)
			}
			continue
		}
		if s != nil {
			side := ""
			if t.Side != "" {
				side = ", " + t.Side + " side"
			}
			s.consider(name, t.Tests, Chosen, "chapter %s step %s%s", t.Chapter, t.Step, side)
			s.Result = orText(s.Result, "chapter "+t.Chapter+" step "+t.Step+side)
		}
		x.place(b, Item{Table: TestTable, Row: row, Publication: pub, Service: -1}, f, x.r.testBul[row], x.r.pubBul[pub])
	}
	if s != nil && s.Result == "" {
		s.Result = "the publication has no such step"
	}
}

// troubleCode resolves a code read out of a control unit.
func (x *run) troubleCode() {
	r := x.r
	rows, code := x.troubleRows()
	if len(rows) == 0 {
		x.reach(ComponentStep, -1)
		if x.tr != nil {
			s := x.tr.step(ComponentStep, "the code is looked up in the trouble code table", code)
			s.Result = "no such code; nearest: " + joinOr(r.nearestTroubles(code))
		}
		return
	}
	x.reach(ClassifyStep, int32(r.classIndex(catalog.Diagnosis)))
	if !x.vehicle() {
		return
	}
	x.eachBranch(func(b *branch) {
		var s *TraceStep
		x.next(CardStep)
		x.reach(ComponentStep, -1)
		if x.tr != nil {
			s = x.tr.step(ComponentStep, "rows of the trouble code that fit, whose publication fits and is not superseded", code)
		}
		for _, row := range rows {
			c := &r.t.TroubleCodes[row]
			name := "trouble:" + c.System + "/" + c.Code
			if x.q.System != "" && !strings.EqualFold(x.q.System, c.System) {
				if s != nil {
					s.consider(name, c.Meaning, RuledOut, "is a code of another system")
				}
				continue
			}
			x.reach(ComponentStep, row)
			f := x.fit(b, r.troubleKey[row])
			if f == catalog.Outside {
				if s != nil {
					s.consider(name, c.Meaning, RuledOut, "%s", x.why(b, r.troubleKey[row], c.AppliesTo))
				}
				continue
			}
			pub := r.troubPub[row]
			pf := x.pubFit(b, pub)
			if pf == catalog.Outside {
				x.stopAt(PublicationStep)
				if s != nil {
					s.consider(name, c.Meaning, RuledOut, "its publication %s does not apply or is superseded", c.Publication)
				}
				continue
			}
			f = min(f, pf)
			if s != nil {
				v := Chosen
				if f == catalog.Partly {
					v = Possible
				}
				s.consider(name, c.Meaning, v, "%s", x.why(b, r.troubleKey[row], c.AppliesTo))
				s.Result = orText(s.Result, c.Publication+" "+PlaceText(c.Location))
			}
			x.reach(PublicationStep, r.seriesOf[pub])
			x.reach(EditionStep, pub)
			x.place(b, Item{Table: TroubleTable, Row: row, Publication: pub, Service: -1}, f, r.troubBul[row], r.pubBul[pub])
		}
		if s != nil && s.Result == "" {
			s.Result = "no row applies"
		}
	})
}

// troubleRows finds the rows of the code that the query's text is: as it
// stands, failing that as every trouble scheme unpacks it, failing that as
// codes are commonly written. The code is given in the form of the table.
func (x *run) troubleRows() (rows []int32, code string) {
	r, text := x.r, troubleText(x.q.Text)
	if rows := r.troubles[text]; len(rows) > 0 {
		if x.tr != nil {
			s := x.tr.step(CodeStep, "the code stands in the table as it is", x.q.Text)
			s.Result = text
		}
		return rows, text
	}
	var s *TraceStep
	if x.tr != nil {
		s = x.tr.step(CodeStep, "the bytes are read by the packing of each trouble scheme", x.q.Text)
	}
	read := false
	for _, d := range r.trouble {
		t, err := d.Unpack(catalog.Fold(x.q.Text))
		if err != nil {
			if s != nil {
				s.consider("scheme:"+d.Name(), "", RuledOut, "%v", err)
			}
			continue
		}
		found := r.troubles[troubleText(t.String())]
		if len(found) == 0 {
			if s != nil {
				s.consider("scheme:"+d.Name(), "", RuledOut, "reads %s, which is not in the table", t)
			}
			continue
		}
		if s != nil {
			s.consider("scheme:"+d.Name(), "", Chosen, "reads %s", t)
			s.Result = orText(s.Result, t.String())
		}
		if !read {
			rows, code, read = found, troubleText(t.String()), true
			continue
		}
		for _, row := range found {
			if !slices.Contains(rows, row) {
				rows = append(slices.Clip(rows), row)
			}
		}
	}
	if read {
		return rows, code
	}
	t, err := catalog.ParseTrouble(x.q.Text)
	if err != nil {
		if s != nil {
			s.Result = err.Error()
		}
		return nil, text
	}
	if s != nil {
		s.Result = t.String()
	}
	code = troubleText(t.String())
	return r.troubles[code], code
}

// troubleText is the form in which trouble codes are compared: folded, but with
// a hyphen between digits kept, since 1208-3 and 120-83 are two codes.
func troubleText(code string) string {
	if strings.IndexByte(code, '-') < 0 {
		return catalog.Fold(code)
	}
	var out []byte
	for part := range strings.SplitSeq(code, "-") {
		part = catalog.Fold(part)
		if len(out) > 0 && part != "" && isDigit(out[len(out)-1]) && isDigit(part[0]) {
			out = append(out, '-')
		}
		out = append(out, part...)
	}
	return string(out)
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func (r *Resolver) nearestTroubles(code string) []string {
	v := newVocabulary(r.wording)
	for i := range r.t.TroubleCodes {
		v.add(r.t.TroubleCodes[i].Code, int32(i))
	}
	return v.nearest([]string{strings.ToLower(code)}, 3)
}
