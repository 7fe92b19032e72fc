package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rightpage/banks/catalog"
)

// machineLine is a line of machines; its machines share one run of serials.
type machineLine struct {
	letter, name string
	base         int64 // the serial before the first
	rate         int64 // machines a month
}

var tarnfellLines = []machineLine{
	{"N", "Dunlin", 100000, 92},
	{"P", "Lapwing", 200000, 131},
	{"U", "Curlew", 300000, 74},
	{"L", "Dray", 400000, 57},
	{"B", "Beadle", 500000, 38},
	{"V", "Verger", 600000, 33},
}

func tarnfellLine(letter string) machineLine {
	for _, l := range tarnfellLines {
		if l.letter == letter {
			return l
		}
	}
	panic("no line " + letter)
}

// serialAt is the serial of the first machine built in a month or on a day,
// counted from January 2011.
func (l machineLine) serialAt(date string) int64 {
	const month = 30.44 // days
	days := must(catalog.ParseDate(date)).First() - must(catalog.ParseDate("2011-01")).First()
	return l.base + 1 + int64(float64(days)/month*float64(l.rate))
}

// engineSerialAt is the same for the engines of a family: 3A, 3B, 3C, 4D, 4E.
func engineSerialAt(family, date string) int64 {
	rate := map[string]int64{"3A": 48, "3B": 64, "3C": 171, "4D": 118, "4E": 62}[family]
	return machineLine{base: 10000, rate: rate}.serialAt(date)
}

// machine is a model and what it was built with at first and after each change.
type machine struct {
	code, sales  string
	short        string // positions 4 to 6 of the product number
	from         string
	through      string // "" still built
	engine       string
	transmission string
	axle         string
	loader       string
	changes      []change
}

// change is a change of a unit in the midst of the run.
type change struct {
	date string
	to   string // unit's code; which unit it is follows from the first letter
}

// tarnfellMachines lists the machines of the first revision; later ones add.
func tarnfellMachines() []machine {
	const open = ""
	return []machine{
		{"NR1A1GA", "Dunlin 19 G", "N11", "2011-03", "2015-10", "3A09A", "G11A", "A11A", "Q11A", []change{{"2014-06", "3A09B"}}},
		{"NR1A1HA", "Dunlin 19 H", "N12", "2011-03", "2017-06", "3A09A", "H11A", "A11A", "Q11A", []change{{"2014-06", "3A09B"}, {"2016-02-15", "H11B"}}},
		{"NR1B1GA", "Dunlin 23 G", "N21", "2011-09", "2019-04", "3B11A", "G11A", "A11A", "Q11A", []change{{"2015-03", "3B11B"}}},
		{"NR1B1HA", "Dunlin 23 H", "N22", "2011-09", "2020-01", "3B11A", "H11A", "A11A", "Q11A", []change{{"2015-03", "3B11B"}, {"2016-02-15", "H11B"}}},
		{"NC1B1HA", "Dunlin 23 HC", "N23", "2013-04", "2020-01", "3B11A", "H11A", "A11A", "Q11A", []change{{"2015-03", "3B11B"}, {"2016-02-15", "H11B"}}},
		{"NR1B2HA", "Dunlin 25 H", "N32", "2016-05", open, "3B11B", "H11B", "A11B", "Q11A", []change{{"2020-02", "3B11C"}}},
		{"NC1B2HM", "Dunlin 25 HC Municipal", "N33", "2016-05", open, "3B11B", "H11B", "A11B", "", []change{{"2020-02", "3B11C"}}},
		{"NR1B3HA", "Dunlin 27 H", "N11", "2020-06", open, "3B11C", "H21B", "A11B", "Q11A", nil},
		{"NC1B3HM", "Dunlin 27 HC Municipal", "N43", "2020-06", open, "3B11C", "H21B", "A11B", "", nil},

		{"PR2C1GA", "Lapwing 28 G", "P11", "2011-05", "2018-12", "3C15A", "G21A", "A21A", "Q21A", []change{{"2015-05", "3C15B"}, {"2017-03", "G21B"}}},
		{"PR2C1HA", "Lapwing 28 H", "P12", "2011-05", "2019-09", "3C15A", "H21A", "A21A", "Q21A", []change{{"2015-05", "3C15B"}, {"2016-11-07", "H21B"}}},
		{"PR2C2GA", "Lapwing 33 G", "P21", "2012-01", "2019-09", "3C15A", "G21A", "A21A", "Q21A", []change{{"2015-05", "3C15B"}, {"2017-03", "G21B"}}},
		{"PR2C2HA", "Lapwing 33 H", "P22", "2012-01", open, "3C15A", "H21A", "A21A", "Q21A", []change{{"2015-05", "3C15B"}, {"2016-11-07", "H21B"}, {"2019-10", "3C15C"}}},
		{"PC2C2HA", "Lapwing 33 HC", "P23", "2012-01", open, "3C15A", "H21A", "A21A", "Q21A", []change{{"2015-05", "3C15B"}, {"2016-11-07", "H21B"}, {"2019-10", "3C15C"}}},
		{"PN2C2GA", "Lapwing 33 N", "P24", "2014-09", "2021-08", "3C15A", "G21A", "A21A", "", []change{{"2015-07", "3C15B"}, {"2017-03", "G21B"}, {"2019-10", "3C15C"}}},
		{"PR2C3EA", "Lapwing 38 E", "P35", "2017-02", open, "3C15B", "E21A", "A21B", "Q21B", []change{{"2019-10", "3C15C"}}},
		{"PC2C3EA", "Lapwing 38 EC", "P36", "2017-02", open, "3C15B", "E21A", "A21B", "Q21B", []change{{"2019-10", "3C15C"}}},
		{"PR2C3HA", "Lapwing 38 H", "P32", "2019-10", open, "3C15C", "H21B", "A21B", "Q21B", nil},
		{"PC2C3HM", "Lapwing 38 HC Municipal", "P33", "2019-10", open, "3C15C", "H21B", "A21B", "", nil},

		{"UR3D1GA", "Curlew 42 G", "U11", "2011-08", "2017-09", "4D20A", "G31A", "A31A", "Q31A", []change{{"2014-10", "4D20B"}}},
		{"UC3D1GA", "Curlew 42 GC", "U13", "2011-08", "2019-05", "4D20A", "G31A", "A31A", "Q31A", []change{{"2014-10", "4D20B"}, {"2016-06", "G31B"}}},
		{"UR3D1EA", "Curlew 42 E", "U15", "2013-02", "2019-05", "4D20A", "E31A", "A31A", "Q31A", []change{{"2014-10", "4D20B"}, {"2018-09-10", "E31B"}}},
		{"UR3D2EA", "Curlew 47 E", "U25", "2014-10", open, "4D20B", "E31A", "A31A", "Q31A", []change{{"2018-09-10", "E31B"}, {"2019-06", "4D20C"}}},
		{"UC3D2EA", "Curlew 47 EC", "U26", "2014-10", open, "4D20B", "E31A", "A31A", "Q31A", []change{{"2018-09-10", "E31B"}, {"2019-06", "4D20C"}}},
		{"UC3D2HM", "Curlew 47 HC Municipal", "U23", "2016-03", open, "4D20B", "H22A", "A31A", "", []change{{"2019-06", "4D20C"}}},
		{"UC3E1EA", "Curlew 53 EC", "U36", "2013-09", open, "4E24A", "E31A", "A31A", "Q31A", []change{{"2018-09-10", "E31B"}, {"2019-03", "4E24B"}, {"2022-04", "Q31B"}}},
		{"UN3E1GA", "Curlew 53 N", "U34", "2015-02", "2022-12", "4E24A", "G31A", "A31A", "", []change{{"2016-06", "G31B"}, {"2019-03", "4E24B"}}},
		{"UC3E2EA", "Curlew 58 EC", "U46", "2019-03", open, "4E24B", "E31B", "A31B", "Q31A", []change{{"2022-04", "Q31B"}}},
		{"UC3E2EM", "Curlew 58 EC Municipal", "U47", "2021-01", open, "4E24B", "E31B", "A31B", "", nil},

		{"LR2C1HA", "Dray 6", "L11", "2012-03", "2019-09", "3C15A", "H31A", "A41A", "Q51A", []change{{"2015-09", "3C15B"}}},
		{"LC2C1HA", "Dray 6 C", "L13", "2012-03", "2020-12", "3C15A", "H31A", "A41A", "Q51A", []change{{"2015-09", "3C15B"}, {"2019-10", "3C15C"}}},
		{"LC2C2HM", "Dray 7 C Municipal", "L23", "2019-10", open, "3C15C", "H31B", "A41B", "Q51B", nil},
		{"LR3D1HA", "Dray 9", "L31", "2011-06", "2016-12", "4D20A", "H31A", "A41A", "Q51A", []change{{"2014-12", "4D20B"}}},
		{"LC3D1HA", "Dray 9 C", "L33", "2011-06", "2019-05", "4D20A", "H31A", "A41A", "Q51A", []change{{"2014-12", "4D20B"}, {"2017-05", "Q51B"}}},
		{"LC3D2HA", "Dray 10 C", "L31", "2019-06", open, "4D20C", "H31B", "A41B", "Q51B", nil},
		{"LC4E1HA", "Dray 13 C", "L53", "2014-04", open, "4E24A", "H41A", "A42A", "Q61A", []change{{"2019-03", "4E24B"}, {"2020-01-20", "H41B"}}},
		{"LC4E2HA", "Dray 15 C", "L63", "2020-09", open, "4E24B", "H41B", "A42A", "Q61B", nil},

		{"BC2C2HM", "Beadle 115", "B13", "2013-05", open, "3C15A", "H31A", "A41A", "", []change{{"2015-08", "3C15B"}, {"2018-01", "H31B"}, {"2019-10", "3C15C"}}},
		{"BS2C2HM", "Beadle 115 S", "B17", "2013-05", "2019-09", "3C15A", "H31A", "A41A", "", []change{{"2015-08", "3C15B"}, {"2018-01", "H31B"}}},
		{"BC2C3HM", "Beadle 120", "B23", "2017-06", open, "3C15B", "H31A", "A41A", "", []change{{"2018-01", "H31B"}, {"2019-10", "3C15C"}}},
		{"BS2C3HM", "Beadle 120 S", "B27", "2017-06", open, "3C15B", "H31A", "A41A", "", []change{{"2018-01", "H31B"}, {"2019-10", "3C15C"}}},
		{"BS3D2HM", "Beadle 135 S", "B37", "2021-02", open, "4D20C", "H31B", "A41B", "", nil},

		{"VC5D2HM", "Verger 150", "V13", "2014-10", open, "4D20B", "H41A", "A31A", "", []change{{"2019-06", "4D20C"}, {"2020-01-20", "H41B"}}},
		{"VT5D2HM", "Verger 150 T", "V14", "2014-10", open, "4D20B", "H41A", "A31A", "", []change{{"2019-06", "4D20C"}, {"2020-01-20", "H41B"}}},
		{"VK5D2HM", "Verger 150 K", "V16", "2014-10", open, "4D20B", "H41A", "A31A", "", []change{{"2019-06", "4D20C"}, {"2020-01-20", "H41B"}}},
		{"VT6E1HM", "Verger 170 T", "V24", "2015-09", open, "4E24A", "H41A", "A31B", "", []change{{"2019-03", "4E24B"}, {"2020-01-20", "H41B"}}},
		{"VK6E1HM", "Verger 170 K", "V26", "2015-09", open, "4E24A", "H41A", "A31B", "", []change{{"2019-03", "4E24B"}, {"2020-01-20", "H41B"}}},
		{"VT6E2HM", "Verger 190 T", "V34", "2020-04", open, "4E24B", "H41B", "A31B", "", nil},
	}
}

// cards are the data cards of a machine: one for each stretch without a change.
func (m machine) cards() []catalog.Model {
	line := tarnfellLine(m.code[:1])
	now := m
	var out []catalog.Model
	from := m.from
	emit := func(through catalog.Date, serialThrough int64) {
		c := catalog.Model{Code: m.code, SalesName: m.sales, Engine: now.engine, Transmission: now.transmission,
			Range: catalog.Range{From: must(catalog.ParseDate(from)), Through: through,
				Serials: catalog.Serials{From: line.serialAt(from), Through: serialThrough}}}
		c.Units = append(c.Units, catalog.UnitCode{Unit: "axle", Code: now.axle})
		if now.loader != "" {
			c.Units = append(c.Units, catalog.UnitCode{Unit: "loader", Code: now.loader})
		}
		out = append(out, c)
	}
	changes := slices.Clone(m.changes)
	slices.SortStableFunc(changes, func(a, b change) int { return cmp.Compare(a.date, b.date) })
	for _, c := range changes {
		emit(dayBefore(must(catalog.ParseDate(c.date))), line.serialAt(c.date)-1)
		from = c.date
		switch c.to[0] {
		case '3', '4':
			now.engine = c.to
		case 'H', 'G', 'E':
			now.transmission = c.to
		case 'A':
			now.axle = c.to
		case 'Q':
			now.loader = c.to
		default:
			panic(fmt.Sprintf("%s: change to %q", m.code, c.to))
		}
	}
	if m.through == "" {
		emit(catalog.Date{}, 0)
	} else {
		end := must(catalog.ParseDate(m.through))
		emit(end, line.serialAt(end.AddMonths(1).String())-1)
	}
	return out
}

// engineLetters is what position 7 of the product number means. Letters were
// used again when the makers ran out of them.
var engineLetters = []struct{ letter, engine, from, through string }{
	{"A", "3A09A", "", "2015-12"}, {"B", "3A09B", "", "2018-12"}, {"C", "3B11A", "", "2016-12"}, {"D", "3B11B", "", ""},
	{"A", "3B11C", "2016-01", ""}, {"E", "3C15A", "", "2016-12"}, {"F", "3C15B", "", ""}, {"E", "3C15C", "2017-01", ""},
	{"G", "4D20A", "", "2016-06"}, {"H", "4D20B", "", ""}, {"G", "4D20C", "2016-07", ""},
	{"K", "4E24A", "", ""}, {"L", "4E24B", "", ""},
}

// tarnfellSchemes says how the codes on the plates are read.
func tarnfellSchemes(machines []machine) []catalog.SchemeField {
	var out []catalog.SchemeField
	scheme, kind := "", ""
	field := func(name string, first, length int, check string) {
		out = append(out, catalog.SchemeField{Scheme: scheme, Kind: kind, Field: name, First: first, Length: length, Check: check})
	}
	value := func(v, means, from, through string) {
		f := out[len(out)-1]
		f.Value, f.Means, f.Check = v, means, ""
		f.Range = catalog.Range{From: must(catalog.ParseDate(from)), Through: must(catalog.ParseDate(through))}
		out = append(out, f)
	}
	values := func(pairs ...string) {
		for i := 0; i < len(pairs); i += 2 {
			value(pairs[i], pairs[i+1], "", "")
		}
	}

	scheme, kind = "product number", catalog.KindChassis
	field("maker", 1, 3, "")
	values("GTF", "Tarnfell Machines")
	field("model", 4, 3, "")
	for _, m := range machines {
		// A short code is used again only after the older machine ran out.
		from, through := "", ""
		for _, n := range machines {
			if n.short == m.short && n.code != m.code {
				if n.from < m.from {
					from = m.from
				} else {
					through = m.through
				}
			}
		}
		value(m.short, m.code, from, through)
	}
	field("engine", 7, 1, "")
	for _, e := range engineLetters {
		value(e.letter, e.engine, e.from, e.through)
	}
	field("month", 8, 1, "")
	for i, l := range strings.Split("A B C D E F G H J K L M", " ") {
		value(l, fmt.Sprint(i+1), "", "")
	}
	field("check", 9, 1, catalog.CheckISO3779)
	field("year", 10, 1, "")
	for y := 2011; y <= 2026; y++ {
		c, _ := catalog.ModelYearISO3779(y)
		value(string(c), fmt.Sprint(y), "", "")
	}
	field("plant", 11, 1, "")
	values("T", "Tarnfell")
	value("K", "Kirkhope", "", "")
	value("S", "Skerrow", "", "2018-12")
	value("S", "Tarnfell, hall 4", "2019-01", "")
	field("serial", 12, 6, "")

	scheme, kind = "model code", catalog.KindModel
	field("line", 1, 1, "")
	for _, l := range tarnfellLines {
		value(l.letter, l.name, "", "")
	}
	field("body", 2, 1, "")
	values("R", "platform with folding roll-over frame", "C", "cab", "N", "narrow, for rows", "T", "cab and tipping body", "K", "cab and bare frame", "S", "cab and sweeping body")
	field("wheelbase", 3, 1, "")
	values("1", "1 420 mm", "2", "1 610 mm", "3", "1 840 mm", "4", "2 080 mm", "5", "2 360 mm", "6", "2 720 mm")
	field("engine family", 4, 1, "")
	values("A", "3 cylinders, 0.9 L", "B", "3 cylinders, 1.1 L", "C", "3 cylinders, 1.5 L", "D", "4 cylinders, 2.0 L", "E", "4 cylinders, 2.4 L, turbocharged")
	field("power step", 5, 1, "")
	values("1", "basic", "2", "raised", "3", "high", "4", "high with charge air cooling")
	field("drive", 6, 1, "")
	values("G", "gear shift", "H", "hydrostatic", "E", "power shuttle")
	field("equipment", 7, 1, "")
	values("A", "farm and estate", "M", "municipal, with road lighting")

	scheme, kind = "engine number", catalog.UnitEngine
	field("engine", 1, 5, "")
	for _, e := range engineLetters {
		value(e.engine, e.engine, "", "")
	}
	field("plant", 6, 1, "")
	values("T", "Tarnfell", "R", "Rushen engine works")
	field("serial", 7, 6, "")

	scheme, kind = "transmission number", catalog.UnitTransmission
	field("transmission", 1, 4, "")
	for _, c := range codesOf(machines, "transmission") {
		value(c, c, "", "")
	}
	field("ratio", 5, 1, "")
	values("1", "25 km/h", "2", "30 km/h", "4", "40 km/h")
	field("serial", 6, 5, "")

	scheme, kind = "axle number", "axle"
	field("axle", 1, 4, "")
	for _, c := range codesOf(machines, "axle") {
		value(c, c, "", "")
	}
	field("serial", 5, 5, "")

	scheme, kind = "loader number", "loader"
	field("loader", 1, 4, "")
	for _, c := range codesOf(machines, "loader") {
		value(c, c, "", "")
	}
	field("serial", 5, 5, "")

	scheme, kind = "publication number", catalog.KindPublication
	field("about", 1, 2, "")
	values("10", "Dunlin tractors", "11", "Lapwing tractors", "12", "Curlew tractors", "20", "Dray loaders", "30", "Beadle carriers", "31", "Verger carriers",
		"40", "engines", "50", "transmissions", "55", "front axles", "56", "front and wheel loaders", "60", "all machines")
	field("class", 3, 1, "")
	values("S", "care and maintenance", "R", "repair", "D", "fault finding", "H", "pre-delivery", "N", "bulletin binder", "X", "reference")
	field("subject", 4, 3, "")
	field("edition", 7, 1, "")

	scheme, kind = "data network code", catalog.KindTrouble
	packed := func(name, pack string) {
		out = append(out, catalog.SchemeField{Scheme: scheme, Kind: kind, Field: name, Pack: pack})
	}
	packed("spn", catalog.PackJ1939)
	packed("fmi", catalog.PackJ1939)
	for i, means := range failureModes {
		if means != "" {
			value(fmt.Sprint(i), means, "", "")
		}
	}
	packed("count", catalog.PackJ1939)
	scheme = "cab module code"
	packed("system", catalog.PackISO15031)
	values("B", "body", "C", "chassis", "U", "network", "P", "power unit")
	packed("number", catalog.PackISO15031)
	return out
}

// failureModes are the meanings of the failure mode identifier, in words of our
// own after SAE J1939-73.
var failureModes = [32]string{
	0: "far above normal", 1: "far below normal", 2: "erratic or implausible", 3: "voltage too high or short to supply",
	4: "voltage too low or short to earth", 5: "current too low or open circuit", 6: "current too high or short to earth", 7: "does not answer mechanically",
	8: "frequency or pulse wrong", 9: "update rate wrong", 10: "changes too fast", 11: "cause not known", 12: "control unit or part of it faulty",
	13: "not calibrated", 14: "see the special instruction", 15: "somewhat above normal", 16: "well above normal", 17: "somewhat below normal",
	18: "well below normal", 19: "received data faulty", 31: "condition present",
}

// codesOf lists the codes of a unit on the cards, in order.
func codesOf(machines []machine, unit string) []string {
	var out []string
	for _, m := range machines {
		for _, c := range m.cards() {
			code := map[string]string{"engine": c.Engine, "transmission": c.Transmission}[unit]
			for _, u := range c.Units {
				if u.Unit == unit {
					code = u.Code
				}
			}
			if code != "" && !slices.Contains(out, code) {
				out = append(out, code)
			}
		}
	}
	slices.Sort(out)
	return out
}
