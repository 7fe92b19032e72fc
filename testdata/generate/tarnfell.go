package main

import (
	"fmt"
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// Patterns that stand for a word in troublecodes.txt.
var tarnfellGear = map[string]catalog.Pattern{
	"R": "3C15C;4D20B;4D20C;4E*",                   // engines with a fuel rail
	"F": "3C15C;4D20C;4E24B",                       // engines with a particulate filter
	"M": "??2C3*;??3D2*;??3E*;??4E*;B*;V*;UC*;LC*", // machines with a machine control unit on the network
	"C": "UC*;LC*;B*;V*",                           // machines with the old cab module
}

// tarnfell makes its three revisions.
func tarnfell() ([]made, error) {
	b, err := tarnfellFirst()
	if err != nil {
		return nil, fmt.Errorf("tarnfell: %w", err)
	}
	var all []made
	for _, rev := range []struct {
		name, issued string
		change       func(*builder) error
	}{
		{"2025-1", "2025-01-20", func(*builder) error { return nil }},
		{"2025-2", "2025-06-30", tarnfellSecond},
		{"2026-1", "2026-01-26", tarnfellThird},
	} {
		if err := rev.change(b); err != nil {
			return nil, fmt.Errorf("tarnfell %s: %w", rev.name, err)
		}
		if err := b.bulletins("tarnfell/bulletins.txt", rev.name); err != nil {
			return nil, fmt.Errorf("tarnfell %s: %w", rev.name, err)
		}
		m, err := tarnfellMeta(rev.name, rev.issued)
		if err != nil {
			return nil, err
		}
		all = append(all, made{"tarnfell/" + rev.name, m, b.snapshot()})
	}
	return all, nil
}

func tarnfellFirst() (*builder, error) {
	b, err := newBuilder("tarnfell")
	if err != nil {
		return nil, err
	}
	machines := tarnfellMachines()
	b.t.Schemes = tarnfellSchemes(machines)
	b.addMachines(machines)
	if err := b.publish(tarnfellBooks()...); err != nil {
		return nil, err
	}
	ops, err := readOperations("tarnfell/operations.txt")
	if err != nil {
		return nil, err
	}
	all := func(*edition, operationWords) bool { return true }
	delivery := slices.Clone(ops)
	isDelivery := func(o operationWords) bool { return strings.HasPrefix(o.number, "H") }
	b.writeOperations(slices.DeleteFunc(ops, isDelivery), catalog.Maintenance, all)
	b.writeOperations(slices.DeleteFunc(delivery, func(o operationWords) bool { return !isDelivery(o) }), catalog.PreDelivery, all)
	b.writeProcedures()
	b.retrofits()
	if err := b.refine(); err != nil {
		return nil, err
	}
	if err := b.tarnfellValues(); err != nil {
		return nil, err
	}
	chapters, err := readChapters("tarnfell/chapters.txt")
	if err != nil {
		return nil, err
	}
	if b.chapters, err = b.writeChapters(chapters); err != nil {
		return nil, err
	}
	if err := b.writeTroubleCodes("tarnfell/troublecodes.txt", tarnfellGear, tarnfellReading); err != nil {
		return nil, err
	}
	if b.t.Schedule, err = b.readSchedule("tarnfell/schedule.txt"); err != nil {
		return nil, err
	}
	return b, nil
}

// addMachines puts machines on the data cards and notes when their units were
// built.
func (b *builder) addMachines(machines []machine) {
	for _, m := range machines {
		for _, c := range m.cards() {
			b.t.Models = append(b.t.Models, c)
			b.life("model").add(c.Code, c.Range)
			when := catalog.Range{From: c.Range.From, Through: c.Range.Through}
			b.life("engine").add(c.Engine, when)
			b.life("transmission").add(c.Transmission, when)
			for _, u := range c.Units {
				b.life(u.Unit).add(u.Code, when)
			}
		}
	}
}

func (b *builder) tarnfellValues() error {
	engine, err := readValues("tarnfell/engine-data.txt", "engine", "3A09*", "3B11*", "3C15A;3C15B", "3C15C", "4D20A", "4D20B;4D20C", "4E24*")
	if err != nil {
		return err
	}
	machine, err := readValues("tarnfell/machine-data.txt", "model", "N*", "P*", "U*", "L*", "B*", "V*")
	if err != nil {
		return err
	}
	drive, err := readValues("tarnfell/transmission-data.txt", "transmission", "H1*", "H2*", "H3*", "H4*", "G1*", "G2*", "G3*", "E2*", "E3*")
	if err != nil {
		return err
	}
	axle, err := readValues("tarnfell/axle-data.txt", "axle", "A1*", "A2*", "A3*", "A4*")
	if err != nil {
		return err
	}
	loader, err := readValues("tarnfell/loader-data.txt", "loader", "Q1*", "Q2*", "Q3*", "Q5*", "Q6*")
	if err != nil {
		return err
	}
	b.writeValues(slices.Concat(engine, machine, drive, axle, loader))
	oils, err := readGrades("tarnfell/oil-grades.txt", "engine")
	if err != nil {
		return err
	}
	hydraulic, err := readGrades("tarnfell/hydraulic-oil-grades.txt", "model")
	if err != nil {
		return err
	}
	if err := b.changeValues("tarnfell/changed-values.txt"); err != nil {
		return err
	}
	general, err := readValues("tarnfell/general-torques.txt", "model", "")
	if err != nil {
		return err
	}
	if err := b.writeInto("60-X-545-A", general); err != nil {
		return err
	}
	return b.writeInto("60-X-520-A", slices.Concat(oils, hydraulic))
}

// tarnfellReading says how the codes of a system are read and cleared.
func tarnfellReading(system string) (scheme, read, clear string) {
	if system == "cab" {
		return "cab module code", "Key on, hold the wash and wipe switches together for 5 s; the module lamp blinks the four characters.",
			"Disconnect the module for 60 s with the key off."
	}
	return "data network code", "Service tool at the diagnostic connector, or the fault page of the display: active codes first.",
		"Mend the fault, key off for 30 s, then clear in the service tool; an active code cannot be cleared."
}

// retrofits are the jobs of the bulletin binder.
func (b *builder) retrofits() {
	for _, r := range []struct {
		component string
		applies   catalog.Pattern
		limits    string
		hazards   []string
	}{
		{"seat switch", "N*;P*", "through 2015-12", []string{"battery", "crush"}},
		{"fuel tank cap", "N*", "through 2013-01", []string{"fuel"}},
		{"reversing alarm", "L*", "through 2016-08", []string{"battery"}},
		{"body safety prop", "VT*", "through 2016-05", []string{"crush", "stored pressure"}},
		{"drive shaft guard", "B*", "through 2015-09", []string{"rotating parts"}},
		{"quick coupler", "U*", "through 2014-09", []string{"stored pressure"}},
		{"battery isolator", "P*;U*", "through 2014-09", []string{"battery"}},
		{"access step", "L*", "from 2014-04 through 2019-09", nil},
		{"rotating beacon", "?C*M;V*;B*", "from 2016-05 through 2020-12", []string{"battery", "working at height"}},
		{"towing hitch", "P*", "from 2015-05 through 2019-09", []string{"heavy part"}},
		{"hydraulic hose", "L*", "from no. 404000 through no. 406400", []string{"stored pressure"}},
		{"working lamp", "U*", "from 2018-02", []string{"battery", "working at height"}},
	} {
		e := b.edition("60-N-900-A")
		b.procedure++
		b.t.Procedures = append(b.t.Procedures, catalog.Procedure{
			ID: procedureID(b.procedure), Job: jobTitle("retrofit", r.component), Action: "retrofit", Component: r.component,
			Publication: e.pub.ID, Location: e.place.place(b.partGroup(r.component), 2), AppliesTo: r.applies,
			Effectivity: must(catalog.LimitStyle{}.Parse(r.limits)), Hazards: r.hazards,
		})
	}
}

func tarnfellMeta(revision, issued string) (catalog.Meta, error) {
	m := catalog.Meta{
		Title: "Tarnfell service literature", Maker: "Tarnfell Machines (invented)", Revision: revision, Issued: issued, Language: "en",
		Units:  catalog.Units{Distance: "km", Hours: "h"},
		Limits: catalog.LimitStyle{Style: "arrow-after", Serial: "no.", Arrow: "→"},
		Actions: map[string]catalog.Action{
			"check":     {Classes: []catalog.Class{catalog.Maintenance}, Synonyms: []string{"check over", "de:prüfen", "es:comprobar", "fr:contrôler"}},
			"clean":     {Classes: []catalog.Class{catalog.Maintenance}, Synonyms: []string{"blow out", "de:reinigen", "es:limpiar", "fr:nettoyer"}},
			"lubricate": {Classes: []catalog.Class{catalog.Maintenance}, Synonyms: []string{"grease", "de:schmieren", "es:engrasar", "fr:graisser"}},
			"change":    {Classes: []catalog.Class{catalog.Maintenance}, Synonyms: []string{"drain and refill", "de:wechseln", "es:cambiar", "fr:vidanger"}},
			"adjust":    {Classes: []catalog.Class{catalog.Maintenance, catalog.Repair}, Synonyms: []string{"set", "de:einstellen", "es:ajustar", "fr:régler"}},
			"replace":   {Classes: []catalog.Class{catalog.Maintenance, catalog.Repair}, Synonyms: []string{"renew", "fit new", "de:ersetzen", "es:sustituir", "fr:remplacer"}},
			"inspect":   {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"examine", "de:begutachten", "es:inspeccionar", "fr:inspecter"}},
			"measure":   {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"gauge wear of", "de:messen", "es:medir", "fr:mesurer"}},
			"bleed":     {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"vent", "de:entlüften", "es:purgar", "fr:purger"}},
			"remove":    {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"remove and install", "take off", "take out", "de:ausbauen", "es:desmontar", "fr:déposer"}},
			"overhaul":  {Classes: []catalog.Class{catalog.Repair}, Synonyms: []string{"rebuild", "reseal", "de:überholen", "es:reacondicionar", "fr:réviser"}},
			"test":      {Classes: []catalog.Class{catalog.Diagnosis}, Synonyms: []string{"diagnose", "de:testen", "es:probar", "fr:tester"}},
			"calibrate": {Classes: []catalog.Class{catalog.Diagnosis}, Synonyms: []string{"teach in", "program", "de:anlernen", "es:calibrar", "fr:calibrer"}},
			"retrofit":  {Classes: []catalog.Class{catalog.BulletinDoc}, Synonyms: []string{"fit later", "de:nachrüsten", "es:instalar posteriormente", "fr:monter après coup"}},
		},
		Jobs: map[string]catalog.Job{
			"pre-delivery inspection": {Service: "PD", Synonyms: []string{"PDI", "handover sheet", "prepare for delivery", "de:Übergabedurchsicht", "es:inspección previa a la entrega", "fr:préparation avant livraison"}},
			"run-in service":          {Service: "K0", Synonyms: []string{"first service", "50-hour service", "de:Erstinspektion", "es:primera revisión", "fr:première révision"}},
			"winter care":             {Service: "WN", Synonyms: []string{"winter service", "de:Winterdienstpflege"}},
			"engine oil service":      {Service: "OL", Synonyms: []string{"oil service", "de:Ölservice"}},
		},
		Hazards: tarnfellHazards,
		Cautions: []string{
			"This catalog trains finding the right page. It is not the maker's literature: do the work by the maker's current literature, the local codes and the rules of the shop.",
			"Work that the law reserves for licensed or certified persons (brakes, air conditioning, lifting gear, pressure vessels) is theirs alone.",
			"Stop the engine, take the key out, chock the wheels, lower what is raised and let pressure and heat go before work begins.",
		},
	}
	rows, err := readVocabulary("tarnfell/resembles.txt", 2)
	if err != nil {
		return m, err
	}
	for _, r := range rows {
		m.Resembles = append(m.Resembles, r.cells)
	}
	return m, nil
}

// tarnfellHazards are the hazard words and their cautions.
var tarnfellHazards = map[string]string{
	"heavy part":          "A heavy part can crush. Lift it with rated gear and a second person; follow the maker's current lifting points.",
	"lifting":             "A raised machine or part can fall. Use rated stands on firm ground, never a jack alone; follow the maker's current literature and the lifting rules of the shop.",
	"hot surface":         "Hot surfaces burn. Let the engine and exhaust cool first; the maker's current literature says how long.",
	"hot oil":             "Hot oil burns. Let it cool to hand warmth, catch it and dispose of it by local rules.",
	"hot coolant":         "Hot coolant under pressure scalds. Open the system only when cold, by the maker's current literature.",
	"fuel":                "Fuel burns and harms skin. No flame, spark or hot part near it; catch spills; follow local fire rules.",
	"high-pressure fuel":  "A fuel jet penetrates skin; that is a surgical emergency even if it looks harmless. Never feel for leaks; wait for the pressure to fall as long as the maker's current literature says.",
	"stored pressure":     "Oil under pressure penetrates skin and moves machines. Lower all attachments, stop the engine and relieve the pressure by the maker's current literature before a line is opened.",
	"crush":               "Parts may move and crush. Fit the mechanical support or lock bar that the maker provides; keep others away.",
	"rotating parts":      "Turning parts catch hands and clothes. Stop the engine and take the key out, unless the test needs it running.",
	"PTO":                 "A turning power take-off kills. Engine off and key out before anyone goes near the shaft; guards stay on.",
	"battery":             "Batteries give off explosive gas and very high current. Disconnect the earth side first, wear eye protection, follow the maker's current literature.",
	"short circuit":       "A short circuit burns and starts fires. Use fused test leads; measure only as the maker's current literature says.",
	"mains":               "Mains voltage kills. Work on the mains side is for licensed electricians under local codes.",
	"brake dust":          "Dust from linings harms the lungs; do not assume that old linings are free of asbestos. Wet-clean or extract, never blow.",
	"spring brake":        "A spring brake stores enough energy to kill. Block its spring with the maker's tool before anything is loosened; trained persons only.",
	"compressed air":      "Compressed air injures eyes and skin. Empty the reservoirs before a line is opened; follow local pressure-vessel rules.",
	"chemical":            "Brake fluid, coolant and battery acid harm skin and eyes. Gloves and eye protection; see the safety data sheet.",
	"tyre":                "A tyre can burst while being inflated. Use a cage or stand aside; trained persons only.",
	"dust":                "Dust harms eyes and lungs. Wear a mask and eye protection.",
	"glass":               "Glass cuts and bonded panes fall. Gloves and a second person.",
	"refrigerant":         "Refrigerant freezes skin and harms the climate. Certified persons only, with recovery equipment, by local law.",
	"exhaust gas":         "Exhaust gas kills in closed rooms. Run engines outdoors or on extraction.",
	"working at height":   "A fall injures. Use a platform, not the machine, by the rules of the shop.",
	"high-pressure water": "A water jet injures and drives water into bearings and plugs. Keep the distance that the maker's current literature says.",
	"ROPS":                "A bent, welded or drilled roll-over frame no longer protects. Never repair one; replace it and its bolts by the maker's current literature.",
	"road test":           "Test only on closed ground or with a licence, with brakes proved first.",
}
