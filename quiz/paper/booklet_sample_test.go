package paper

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// sampleBooklet is a booklet as a coordinator at Wexcombe prints it: every
// form of response, boxes, cautions, long and short options.
func sampleBooklet() Booklet {
	plate := Box{Kind: Plate, Title: "Tarnfell", Rows: []Pair{
		{"Product number", "TFLK42E7R1N004816"}, {"Model", "K42-E"}, {"Built", "2027-05"}, {"Engine", "TD3-27T 118640"},
	}}
	order := Box{Kind: RepairOrder, Title: "Repair order 30417 · Wexcombe Holm", Rows: []Pair{
		{"Customer says", "Loader creeps down with the engine off. Worse when warm."},
		{"Hours", "1,486"}, {"Job", "Reseal lift cylinder, left"},
	}}
	qs := []Question{
		{Stem: "The service desk wrote “oil leak, front of engine”. Which class of publication do you take down first?",
			Form: ChooseOne, Options: []string{"Maintenance", "Repair", "Diagnosis", "Bulletins"}, Points: 1},
		{Stem: "Read the plate. Which engine is fitted to this tractor?", Boxes: []Box{plate},
			Form: ChooseOne, Options: []string{"TD3-24", "TD3-27", "TD3-27T", "TD4-33T", "None of these: the catalog does not cover it"}, Points: 1},
		{Stem: "On which page of the repair manual does the removal of the lift cylinder begin for this loader?", Boxes: []Box{plate, order},
			Cautions: []string{"Raised loader arms: fit the cylinder locks before working beneath. Release hydraulic pressure first."},
			Form:     ChooseOne, Options: []string{"RM-K4-2 · 31-14", "RM-K4-2 · 31-41", "RM-K4-3 · 31-14", "RM-K4-3 · 32-06", "RM-K3-7 · 31-14", "RM-K4-2 · 30-14"}, Points: 2},
		{Stem: "Which of these services fall due at this visit?", Boxes: []Box{{Kind: RepairOrder, Rows: []Pair{{"Hours", "1,486"}, {"Last visit", "1,012 h on 2029-11-20"}, {"Date", "2030-10-02"}}}},
			Form: ChooseSeveral, Options: []string{"Engine oil and filter", "Hydraulic return filter", "Cab air filter", "Valve clearances", "Coolant", "Front axle oil"}, Points: 2},
		{Stem: "Write the code of the publication that holds the wiring diagrams for a K42-E built in May 2027.", Form: TypedCode, Points: 1},
		{Stem: "What is the tightening torque of the front wheel nuts on this machine?", Form: NumberUnit, Unit: "Nm", Points: 1},
		{Stem: "Put the steps of finding the right edition into order.", Form: OrderSteps, Options: []string{"Read the product number", "Look up the data card", "Decide what keys the literature", "Find the edition for the build date", "Look for later bulletins"}, Points: 2},
		{Stem: "Work through the whole repair order with the literature beside you. Answer each step.", Form: Chase, Boxes: []Box{order, plate},
			Cautions: []string{"High-pressure oil can pierce the skin. Follow the maker's current instructions."},
			Steps: []ChaseStep{
				{Prompt: "Which class of literature is the job looked up in?", Form: ChooseOne, Options: []string{"Maintenance", "Repair", "Diagnosis", "Reference"}},
				{Prompt: "What is the component's group?", Form: ChooseOne, Options: []string{"30 Hydraulics, general", "31 Lift", "32 Steering", "41 Loader"}},
				{Prompt: "Write the publication's code.", Form: TypedCode},
				{Prompt: "Write the page.", Form: TypedCode},
				{Prompt: "Rod seal outside diameter?", Form: NumberUnit},
			}, Points: 6},
	}
	for len(qs) < 16 {
		n := len(qs) + 1
		qs = append(qs, Question{
			Stem:    fmt.Sprintf("A customer brings a municipal carrier, model C%d, in for its %d-hour service. Which operations does the schedule list?", 20+n, 250*n),
			Form:    ChooseOne,
			Options: []string{"Change the engine oil, the oil filter and the fuel filter; check the belt.", "Change the engine oil and filter; grease all nipples; check the tyre pressures and the wheel nuts, front and rear, and tighten them to the value in the specifications.", "Check the belt only.", "Drain the fuel tank sediment; change the air filter."},
			Points:  1,
		})
	}
	for i := range qs {
		qs[i].Number = i + 1
	}
	return Booklet{
		Quiz: "AUT31", Variant: "B", PersonID: "T-014", PersonName: "Imogen Åslund-Whitcombe", Site: "Wexcombe Holm",
		Organisation: "Wexcombe Estate & Farm Services", Title: "Finding the right page: autumn 2031",
		Catalog: "Tarnfell service literature, revision 3 of 2031-05",
		Instructions: []string{
			"Work with the literature beside you. This is about finding, not about remembering.",
			"Answer every question. A wrong answer costs nothing more than no answer.",
			"Where you think that the literature is at fault, write the question's number on the back of the answer sheet and say why.",
		},
		Cautions: []string{
			"The questions name work on raised loads, stored pressure and fuel. Nothing here replaces the maker's current literature, local rules or the training to do the work.",
		},
		TimeLimit: 75 * time.Minute, PassMark: "80 %", Questions: qs,
	}
}

// fourPageBooklet has a cover and three pages of questions, different for
// each seed, as forms of their own for each person are.
func fourPageBooklet(seed uint64) Booklet {
	rng := rand.New(rand.NewPCG(seed, 5))
	b := sampleBooklet()
	b.PersonID, b.PersonName = fmt.Sprintf("T-%04d", seed), fmt.Sprintf("Technician %d", seed)
	b.Variant = fmt.Sprintf("V%d", seed)
	b.Questions = b.Questions[:12]
	for i := range b.Questions {
		b.Questions[i].Stem += fmt.Sprintf(" (order %d)", rng.IntN(90000)+10000)
	}
	return b
}

// sampleKey is the key to sampleBooklet's form, with traces as the resolver
// gives them.
func sampleKey() KeySheet {
	k := KeySheet{Organisation: "Wexcombe Estate & Farm Services", Title: "Finding the right page: autumn 2031", Variant: "B", Catalog: "Tarnfell service literature, revision 3 of 2031-05"}
	trace := []KeyStep{
		{Rule: "Classify the job", Read: "“reseal lift cylinder”", Chosen: "repair", RuledOut: []string{"maintenance: not on the schedule", "diagnosis: the fault is known"}},
		{Rule: "Read the code", Read: "TFLK42E7R1N004816", Chosen: "model K42-E, built 2027-05, serial 004816"},
		{Rule: "Data card", Read: "K42-E, 2027-05", Chosen: "engine TD3-27T, loader L18", RuledOut: []string{"TD3-27: through 2026-09", "TD3-24: K42-C only"}},
		{Rule: "What keys the literature", Read: "hydraulics", Chosen: "model"},
		{Rule: "Publication and edition", Read: "group 31, K42-E, 2027-05", Chosen: "RM-K4-2, revision B", RuledOut: []string{"RM-K4-3: from serial 005200", "RM-K4-2 revision A: superseded 2028-01", "RM-K3-7: models K30 to K36"}},
		{Rule: "Location", Read: "lift cylinder, removal", Chosen: "page 31-14"},
		{Rule: "Later information", Read: "bulletins for K42-E", Chosen: "none applies", RuledOut: []string{"TB-31-009: from 2029-02"}},
	}
	for _, q := range sampleBooklet().Questions {
		e := KeyEntry{Label: fmt.Sprint(q.Number), Stem: q.Stem, Points: q.Points, Trace: trace[:2+q.Number%6]}
		switch q.Form {
		case ChooseOne:
			e.Key, e.Means = "B", q.Options[1]
			e.Slips = []KeySlip{{"A", "neighbouring model's data card"}, {"C", "limit read on the wrong side"}, {"D", "superseded edition"}}
		case ChooseSeveral, OrderSteps:
			e.Key, e.Means = "A, B, F", "by hours 1,500 and by months 12, whichever comes first"
		case TypedCode:
			e.Key = "WD-K4-1"
		case NumberUnit:
			e.Key = "118 Nm ± 2"
		case Chase:
			for i, s := range q.Steps {
				k.Entries = append(k.Entries, KeyEntry{Label: fmt.Sprintf("%d%s", q.Number, StepLetter(i)), Stem: s.Prompt, Key: "C", Trace: trace[i : i+2]})
			}
			continue
		}
		k.Entries = append(k.Entries, e)
	}
	return k
}
