package paper

import (
	"strconv"
	"strings"
	"time"

	"rightpage/banks"
)

// QuestionsOf lays out the questions of a form variant, numbered from 1.
func QuestionsOf(list []*banks.Question) []Question {
	out := make([]Question, len(list))
	for i := range list {
		out[i] = questionOf(list[i], i+1)
	}
	return out
}

func questionOf(q *banks.Question, number int) Question {
	p := Question{Number: number, Stem: q.Stem, Cautions: q.Cautions, Form: responseForm(q.Form), Unit: q.Key.Unit, Points: 1}
	if q.Form == banks.Number {
		p.Unit = "" // the person writes it: knowing the unit is part of the answer
	}
	if len(q.Order) > 0 {
		box := Box{Kind: Plate}
		for _, l := range q.Order {
			if !onPlate(l.Label) {
				box.Kind = RepairOrder
			}
			box.Rows = append(box.Rows, Pair{l.Label, l.Value})
		}
		p.Boxes = []Box{box}
	}
	for _, o := range q.Options {
		p.Options = append(p.Options, o.Text)
	}
	for _, s := range q.Steps {
		step := ChaseStep{Prompt: s.Ask, Form: TypedCode}
		if len(s.Options) > 0 {
			step.Form = ChooseOne
		}
		for _, o := range s.Options {
			step.Options = append(step.Options, o.Text)
		}
		p.Steps = append(p.Steps, step)
	}
	return p
}

// onPlate tells whether a line stands on an identification plate.
func onPlate(label string) bool {
	switch label {
	case "Chassis number", "Model code", "Engine number", "Transmission number", "Serial", "Built":
		return true
	}
	return false
}

func responseForm(f banks.Form) ResponseForm {
	switch f {
	case banks.SomeOf:
		return ChooseSeveral
	case banks.Typed:
		return TypedCode
	case banks.Number:
		return NumberUnit
	case banks.Ordered:
		return OrderSteps
	case banks.Chase:
		return Chase
	}
	return ChooseOne
}

// KeyEntriesOf lays out the key of a form variant: one entry a question, one a
// step of a chase.
func KeyEntriesOf(list []*banks.Question) []KeyEntry {
	var out []KeyEntry
	for i := range list {
		q := list[i]
		label := strconv.Itoa(i + 1)
		if q.Form == banks.Chase {
			for j := range q.Steps {
				out = append(out, stepEntry(q, j, label+StepLetter(j)))
			}
			continue
		}
		e := KeyEntry{Label: label, Stem: q.Stem, Key: q.KeyText(), Points: 1, Trace: keyTrace(q)}
		if letters := rightLetters(q.Options, q.Key.Order); letters != "" {
			e.Key, e.Means = letters, q.KeyText()
		}
		e.Slips = optionSlips(q.Options)
		for _, s := range q.Slipped {
			if q.Form != banks.SomeOf {
				e.Slips = append(e.Slips, KeySlip{s.Value, s.Slip.String()})
			}
		}
		out = append(out, e)
	}
	return out
}

func stepEntry(q *banks.Question, j int, label string) KeyEntry {
	s := &q.Steps[j]
	e := KeyEntry{Label: label, Stem: s.Ask, Key: s.KeyText(), Slips: optionSlips(s.Options)}
	if letters := rightLetters(s.Options, nil); letters != "" {
		e.Key, e.Means = letters, s.KeyText()
	}
	if j == 0 {
		e.Stem = q.Stem + " " + s.Ask
		e.Points = 1
		e.Trace = keyTrace(q)
	}
	for _, w := range s.Slipped {
		e.Slips = append(e.Slips, KeySlip{w.Value, w.Slip.String()})
	}
	return e
}

func keyTrace(q *banks.Question) []KeyStep {
	var out []KeyStep
	for _, t := range q.Trace {
		out = append(out, KeyStep{Rule: t.Step.String(), Chosen: t.Result})
	}
	return out
}

// rightLetters gives the letters of the right options, or of an order, as they
// are marked on the sheet.
func rightLetters(options []banks.Option, order []string) string {
	var out []string
	if len(order) > 0 {
		for _, v := range order {
			for i, o := range options {
				if o.Value == v {
					out = append(out, OptionLetter(i))
				}
			}
		}
		return strings.Join(out, ", ")
	}
	for i, o := range options {
		if o.Right {
			out = append(out, OptionLetter(i))
		}
	}
	return strings.Join(out, ", ")
}

func optionSlips(options []banks.Option) []KeySlip {
	var out []KeySlip
	for i, o := range options {
		if !o.Right {
			out = append(out, KeySlip{OptionLetter(i), o.Slip.String()})
		}
	}
	return out
}

// BookletOf lays out a variant of a form for one person. Without a person it
// leaves lines to write on.
func BookletOf(f *banks.TestForm, v *banks.Variant, personID, personName, organisation string, cautions []string) Booklet {
	b := Booklet{
		Quiz: f.ID, Variant: v.Name, PersonID: personID, PersonName: personName, Organisation: organisation,
		Title: f.Title, Catalog: f.Catalog + ", revision " + f.Revision, Cautions: cautions,
		TimeLimit: time.Duration(f.Blueprint.TimeLimit) * time.Minute,
		PassMark:  strconv.FormatFloat(f.Blueprint.Cut*100, 'f', -1, 64) + " %",
		Questions: QuestionsOf(v.Questions),
	}
	b.Instructions = append(b.Instructions, "Write your answers on the answer sheet.")
	if f.Blueprint.Book == banks.ClosedBook {
		b.Instructions = append(b.Instructions, "Work without the literature.")
	} else {
		b.Instructions = append(b.Instructions, "Work with the literature beside you: what counts is that you find the right page.")
	}
	if f.Blueprint.PartialCredit {
		b.Instructions = append(b.Instructions, "Where several options are to be marked, or steps to be given, each counts; a wrong mark takes away what a right one gives.")
	}
	return b
}

// KeySheetOf lays out the key of a variant.
func KeySheetOf(f *banks.TestForm, v *banks.Variant, organisation string) KeySheet {
	return KeySheet{
		Organisation: organisation, Title: f.Title, Variant: v.Name, Catalog: f.Catalog + ", revision " + f.Revision,
		Entries: KeyEntriesOf(v.Questions),
	}
}
