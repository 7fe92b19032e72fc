package main

import (
	"fmt"
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// quillanEngines lists the engine types: the three digits that open the engine
// number, the code that the literature uses, and the serials that bear it.
// Outboards (W) and inboards (N) have a run of serials each.
func quillanEngines() []struct {
	digits, code  string
	from, through int64
} {
	return []struct {
		digits, code  string
		from, through int64
	}{
		{"110", "W101A", 1, 0}, {"120", "W202A", 1, 0}, {"130", "W203A", 1, 46200}, {"131", "W203B", 38001, 0},
		{"140", "W307A", 4001, 0}, {"150", "W310A", 4001, 0}, {"160", "W415A", 8001, 0}, {"161", "W415J", 20001, 58700}, {"170", "W417A", 27001, 0},
		{"310", "N204A", 1, 0}, {"320", "N306A", 1, 0}, {"330", "N311A", 1, 0}, {"340", "N415A", 3001, 0}, {"350", "N422A", 11001, 0},
	}
}

// quillan makes its two revisions.
func quillan() ([]made, error) {
	b, err := quillanFirst()
	if err != nil {
		return nil, fmt.Errorf("quillan: %w", err)
	}
	var all []made
	for _, rev := range []struct {
		section, folder, name, issued string
		change                        func(*builder) error
	}{
		{"1", "quillan", "18", "2024-11-04", func(*builder) error { return nil }},
		{"2", "quillan-next", "19", "2025-06-02", quillanSecond},
	} {
		if err := rev.change(b); err != nil {
			return nil, fmt.Errorf("quillan %s: %w", rev.name, err)
		}
		if err := b.bulletins("quillan/bulletins.txt", rev.section); err != nil {
			return nil, fmt.Errorf("quillan %s: %w", rev.name, err)
		}
		m, err := quillanMeta(rev.name, rev.issued)
		if err != nil {
			return nil, err
		}
		all = append(all, made{rev.folder, m, b.snapshot()})
	}
	return all, nil
}

func quillanFirst() (*builder, error) {
	b, err := newBuilder("quillan")
	if err != nil {
		return nil, err
	}
	for _, e := range quillanEngines() {
		b.life("engine").add(e.code, catalog.Range{Serials: catalog.Serials{From: e.from, Through: e.through}})
	}
	for s := int64(1500); s < 76000; s += 1500 {
		b.serials['W'] = append(b.serials['W'], s)
	}
	for s := int64(700); s < 21000; s += 700 {
		b.serials['N'] = append(b.serials['N'], s)
	}
	b.t.Schemes = quillanSchemes()
	if err := b.publish(quillanBooks()...); err != nil {
		return nil, err
	}
	ops, err := readOperations("quillan/operations.txt")
	if err != nil {
		return nil, err
	}
	all := func(*edition, operationWords) bool { return true }
	delivery := slices.Clone(ops)
	isDelivery := func(o operationWords) bool { return strings.HasPrefix(o.number, "9") }
	b.writeOperations(slices.DeleteFunc(ops, isDelivery), catalog.Maintenance, all)
	b.writeOperations(slices.DeleteFunc(delivery, func(o operationWords) bool { return !isDelivery(o) }), catalog.PreDelivery, all)
	b.writeProcedures()
	if err := b.refine(); err != nil {
		return nil, err
	}
	outboard, err := readValues("quillan/outboard-data.txt", "engine", "W101A", "W202A", "W203A", "W203B", "W307A", "W310A", "W415*", "W417A")
	if err != nil {
		return nil, err
	}
	inboard, err := readValues("quillan/inboard-data.txt", "engine", "N204A", "N306A", "N311A", "N415A", "N422A")
	if err != nil {
		return nil, err
	}
	b.writeValues(slices.Concat(outboard, inboard))
	if err := b.changeValues("quillan/changed-values.txt"); err != nil {
		return nil, err
	}
	oils, err := readGrades("quillan/oil-grades.txt", "engine")
	if err != nil {
		return nil, err
	}
	if err := b.writeInto("QX-550-A", oils); err != nil {
		return nil, err
	}
	chapters, err := readChapters("quillan/chapters.txt")
	if err != nil {
		return nil, err
	}
	if b.chapters, err = b.writeChapters(chapters); err != nil {
		return nil, err
	}
	reading := func(string) (scheme, read, clear string) {
		return "", "Key on, lanyard in, press and hold the trim-up and stop buttons for 8 s: the warning horn sounds tens, then units.",
			"Mend the fault, then pull the main fuse for 60 s with the key off."
	}
	if err := b.writeTroubleCodes("quillan/troublecodes.txt", nil, reading); err != nil {
		return nil, err
	}
	if b.t.Schedule, err = b.readSchedule("quillan/schedule.txt"); err != nil {
		return nil, err
	}
	return b, nil
}

func quillanSecond(b *builder) error {
	move := func(older, newer string, serial int64) {
		o, n := b.edition(older).life(), b.edition(newer).life()
		o.Serials.Through, n.Serials.From = serial-1, serial
		b.setLimits(older, o)
		b.setLimits(newer, n)
	}
	move("QR-230-A", "QR-230-B", 39501)
	move("QX-540-A", "QX-540-B", 9601)
	b.correctPages("QR-210-B", 11)
	b.correctPages("QS-140-C", 13)
	for _, v := range []struct{ quantity, condition, publication, on, value string }{
		{"gear oil capacity", "", "QX-530-B", "W417A", "940"},
		{"battery rating", "cold cranking", "QX-540-B", "N422A", "850"},
	} {
		if err := b.correctValue(v.quantity, v.condition, v.publication, catalog.Pattern(v.on), v.value); err != nil {
			return err
		}
	}
	return nil
}

func quillanSchemes() []catalog.SchemeField {
	engine := catalog.SchemeField{Scheme: "engine number", Kind: catalog.UnitEngine, Field: "engine", First: 1, Length: 3}
	out := []catalog.SchemeField{engine}
	for _, e := range quillanEngines() {
		v := engine
		v.Value, v.Means = e.digits, e.code
		out = append(out, v)
	}
	out = append(out,
		catalog.SchemeField{Scheme: "engine number", Kind: catalog.UnitEngine, Field: "serial", First: 4, Length: 6},
		catalog.SchemeField{Scheme: "engine number", Kind: catalog.UnitEngine, Field: "check", First: 10, Length: 1, Check: catalog.CheckMod10},
	)
	class := catalog.SchemeField{Scheme: "publication number", Kind: catalog.KindPublication, Field: "class", First: 1, Length: 2}
	out = append(out, class)
	for _, v := range [][2]string{{"QS", "service"}, {"QR", "repair"}, {"QD", "fault finding"}, {"QH", "commissioning"}, {"QX", "data"}} {
		f := class
		f.Value, f.Means = v[0], v[1]
		out = append(out, f)
	}
	return append(out,
		catalog.SchemeField{Scheme: "publication number", Kind: catalog.KindPublication, Field: "subject", First: 3, Length: 3},
		catalog.SchemeField{Scheme: "publication number", Kind: catalog.KindPublication, Field: "edition", First: 6, Length: 1},
	)
}

func quillanBooks() []series {
	serials := func(at ...int64) []breakpoint {
		var out []breakpoint
		for _, s := range at {
			out = append(out, bySerial(s))
		}
		return out
	}
	outboard := []string{"MA", "MB", "MC", "MD", "ME", "MF", "MJ", "MK", "ML", "G", "HA", "HC", "HD", "JA", "JB", "JC", "K"}
	inboard := []string{"MA", "MB", "MC", "MD", "ME", "MK", "ML", "GC", "HE", "I", "JA", "JB", "JC", "K"}
	all := []string{"M", "G", "H", "I", "J", "K"}
	book := func(id string, class catalog.Class, title string, applies catalog.Pattern, groups []string, media, key string, at ...int64) series {
		return series{id: id, class: class, title: title, keyed: "engine", applies: applies, groups: groups, shelf: "Chart table", media: media,
			byGroup: class == catalog.Repair, breaks: serials(at...), key: key}
	}
	const (
		s = catalog.Maintenance
		r = catalog.Repair
		d = catalog.Diagnosis
		h = catalog.PreDelivery
		x = catalog.Reference
	)
	return []series{
		book("QS-110", s, "Portable outboards: service", "W1*;W2*", all, "pps", "", 18001, 49501),
		book("QS-120", s, "Three-cylinder outboards: service", "W3*", all, "ps", "", 33001),
		book("QS-130", s, "Four-cylinder outboards: service", "W4*", all, "pps", "", 29001, 55001),
		book("QS-140", s, "Mechanical inboards: service", "N2*;N3*;N415A", all, "pps", "", 6501, 13001),
		book("QS-150", s, "Rail inboards: service", "N422A", all, "ps", "", 15001),
		book("QR-210", r, "Portable outboards: repair", "W1*;W2*", outboard, "pp", "", 27501),
		book("QR-220", r, "Three-cylinder outboards: repair", "W3*", outboard, "ps", "", 41001),
		book("QR-230", r, "Four-cylinder outboards: repair", "W4*", outboard, "ps", "", 38001),
		book("QR-240", r, "Mechanical inboards: repair", "N2*;N3*;N415A", append(inboard, "MH"), "pp", "", 8001),
		book("QR-250", r, "Rail inboards: repair", "N422A", append(inboard, "MH", "JD"), "s", ""),
		book("QR-260", r, "Power trim and tilt: repair", "W3*;W4*", []string{"HB"}, "ps", "", 51501),
		book("QR-270", r, "Petrol injection: repair", "W203B;W3*;W4*", []string{"MG", "JD"}, "ps", "", 44001),
		book("QR-280", r, "Reversing gears and stern gear: repair", "N*", []string{"GE", "GF"}, "pp", "", 10501),
		book("QD-110", d, "Outboards with carburettor: fault finding", "W101A;W202A;W203A", all, "pp", "carb", 24001),
		book("QD-120", d, "Outboards with injection: fault finding", "W203B;W3*;W4*", all, "pps", "efi", 32001, 52001),
		book("QD-140", d, "Mechanical inboards: fault finding", "N2*;N3*;N415A", all, "pp", "diesel", 9001),
		book("QD-150", d, "Rail inboards: fault finding", "N422A", all, "s", "rail"),
		book("QH-410", h, "Outboards: rigging and commissioning", "W*", nil, "ps", "", 47001),
		book("QH-440", h, "Inboards: commissioning", "N*", nil, "p", ""),
		book("QX-510", x, "Portable outboards: data", "W1*;W2*", all, "pp", "", 30001),
		book("QX-530", x, "Larger outboards: data", "W3*;W4*", all, "ps", "", 40001),
		book("QX-540", x, "Inboards: data", "N*", all, "ps", "", 9301),
		book("QX-550", x, "Oils, fuels and fluids", "", nil, "p", ""),
	}
}

func quillanMeta(revision, issued string) (catalog.Meta, error) {
	classes := func(c ...catalog.Class) []catalog.Class { return c }
	m := catalog.Meta{
		Title: "Quillan engine literature", Maker: "Quillan Marine (invented)", Revision: revision, Issued: issued, Language: "en", Primary: catalog.UnitEngine,
		Units:  catalog.Units{Hours: "h"},
		Limits: catalog.LimitStyle{Style: "words", From: "from", Through: "up to", Serial: "no."},
		Actions: map[string]catalog.Action{
			"check":     {Classes: classes(catalog.Maintenance), Synonyms: []string{"look over", "de:prüfen", "es:comprobar", "fr:contrôler"}},
			"clean":     {Classes: classes(catalog.Maintenance), Synonyms: []string{"de:reinigen", "es:limpiar", "fr:nettoyer"}},
			"lubricate": {Classes: classes(catalog.Maintenance), Synonyms: []string{"grease", "de:schmieren", "es:engrasar", "fr:graisser"}},
			"change":    {Classes: classes(catalog.Maintenance), Synonyms: []string{"drain and refill", "de:wechseln", "es:cambiar", "fr:vidanger"}},
			"adjust":    {Classes: classes(catalog.Maintenance, catalog.Repair), Synonyms: []string{"set", "align", "de:einstellen", "es:ajustar", "fr:régler"}},
			"replace":   {Classes: classes(catalog.Maintenance, catalog.Repair), Synonyms: []string{"renew", "fit new", "de:ersetzen", "es:sustituir", "fr:remplacer"}},
			"inspect":   {Classes: classes(catalog.Repair), Synonyms: []string{"examine", "de:begutachten", "es:inspeccionar", "fr:inspecter"}},
			"measure":   {Classes: classes(catalog.Repair), Synonyms: []string{"de:messen", "es:medir", "fr:mesurer"}},
			"bleed":     {Classes: classes(catalog.Repair), Synonyms: []string{"de:entlüften", "es:purgar", "fr:purger"}},
			"remove":    {Classes: classes(catalog.Repair), Synonyms: []string{"remove and install", "take off", "take out", "de:ausbauen", "es:desmontar", "fr:déposer"}},
			"overhaul":  {Classes: classes(catalog.Repair), Synonyms: []string{"rebuild", "de:überholen", "es:reacondicionar", "fr:réviser"}},
			"test":      {Classes: classes(catalog.Diagnosis), Synonyms: []string{"diagnose", "de:testen", "es:probar", "fr:tester"}},
			"calibrate": {Classes: classes(catalog.Diagnosis), Synonyms: []string{"teach in", "de:anlernen", "es:calibrar", "fr:calibrer"}},
		},
		Jobs: map[string]catalog.Job{
			"commissioning":  {Service: "PD", Synonyms: []string{"pre-delivery inspection", "rigging", "de:Inbetriebnahme", "es:puesta en servicio", "fr:mise en service"}},
			"winter lay-up":  {Service: "LU", Synonyms: []string{"winterise", "winterising", "de:Einwintern", "es:invernaje", "fr:hivernage"}},
			"annual service": {Service: "AN", Synonyms: []string{"yearly service", "de:Jahresservice"}},
			"first service":  {Service: "FS", Synonyms: []string{"run-in service", "de:Erstinspektion"}},
		},
		Hazards: quillanHazards,
		Cautions: []string{
			"This catalog trains finding the right page. It is not the maker's literature: do the work by the maker's current literature, the local codes and the rules of the yard.",
			"Pull the lanyard, take the key out and, where the job allows, take the propeller off before anyone works near it.",
			"Fuel vapour gathers in a hull. Ventilate, sniff, and switch nothing until it is gone.",
		},
	}
	rows, err := readVocabulary("quillan/resembles.txt", 2)
	if err != nil {
		return m, err
	}
	for _, r := range rows {
		m.Resembles = append(m.Resembles, r.cells)
	}
	return m, nil
}

// quillanHazards are the hazard words and their cautions.
var quillanHazards = map[string]string{
	"lifting":             "An engine on a hoist can fall. Use rated gear and the maker's lifting eye by its current literature; nobody stands below.",
	"hot surface":         "Hot surfaces burn. Let the engine cool first.",
	"hot oil":             "Hot oil burns. Let it cool to hand warmth; let none reach the water, by local law.",
	"hot coolant":         "Hot coolant under pressure scalds. Open the circuit only when cold.",
	"fuel":                "Fuel burns and harms skin and water. No flame or hot part near it; catch spills; follow local rules.",
	"fuel jet":            "A fuel jet penetrates skin; that is a surgical emergency even if it looks harmless. Never feel for leaks; let the pressure fall by the maker's current literature.",
	"petrol vapour":       "Petrol vapour explodes and lies in the bilge. Ventilate, battery off, no spark; follow local fire rules.",
	"fuel under pressure": "Petrol stands under pressure with the engine off. Relieve it by the maker's current literature, wrap the joint, catch the spill.",
	"ignition voltage":    "Ignition voltage can stop a heart. Use insulated tools and a spark tester; persons with a pacemaker keep away.",
	"battery":             "Batteries give off explosive gas and very high current. Battery switch off, earth side first, eye protection.",
	"rotating parts":      "Flywheel and belts catch hands and clothes. Stop the engine and pull the lanyard, unless the test needs it running.",
	"propeller":           "A propeller that turns by surprise maims. Lanyard out, key out, gear in neutral, plug leads off or propeller off.",
	"stored pressure":     "Trim oil under pressure penetrates skin and drops the engine. Lock the tilt and relieve the pressure by the maker's current literature.",
	"crush":               "A tilted engine can drop. Use the tilt lock and a support; hands out of the bracket.",
	"flooding":            "Work on sea cocks and shaft seals can sink the boat. Close the cock or take the boat ashore; have the plug at hand.",
	"exhaust gas":         "Exhaust gas kills in cabins and sheds. Run outdoors or on extraction.",
	"compressed air":      "Compressed air injures eyes and skin. Use no more than the test pressure.",
}
