package main

import (
	"rightpage/banks/catalog"
)

// tarnfellBooks lists the publications, with the breaks between their editions.
func tarnfellBooks() []series {
	var all []series
	add := func(s ...series) { all = append(all, s...) }

	type lineBooks struct {
		number, letter   string
		axles            []string // groups of the book on axles, brakes and steering
		b1, b2, b3       string   // months in which the line was changed
		day              string   // of the change of the wiring
		film             bool     // the oldest editions are on film
		maintenance, rep string   // media
	}
	for _, l := range []lineBooks{
		{"10", "N", []string{"AC", "AD", "AE", "B"}, "2014-11", "2017-07", "2020-02", "2017-09-18", true, "fps", "fp"},
		{"11", "P", []string{"AC", "AD", "AE", "B"}, "2015-05", "2017-03", "2019-10", "2016-11-07", true, "fps", "ps"},
		{"12", "U", []string{"AC", "AD", "AE", "B"}, "2014-10", "2018-02", "2019-06", "2018-09-10", true, "fps", "ps"},
		{"20", "L", []string{"AC", "AD", "AE", "AF", "B"}, "2014-04", "2016-09", "2019-10", "2017-01-23", false, "pps", "ps"},
		{"30", "B", []string{"AC", "AD", "AE", "AF", "B"}, "2015-08", "2018-01", "2021-02", "2018-04-16", false, "pps", "ps"},
		{"31", "V", []string{"AC", "AD", "AE", "B"}, "2016-05", "2018-11", "2021-09", "2019-03-11", false, "pps", "ss"},
	} {
		m := tarnfellLine(l.letter)
		applies := catalog.Pattern(l.letter + "*")
		at := func(date string, n int) string { return must(catalog.ParseDate(date)).AddMonths(n).String() }
		serial := func(date string) breakpoint { return bySerial(m.serialAt(date)) }
		// Wiring has books of its own.
		electrical := []string{"EA", "EB", "EC", "ED", "EF", "EG"}
		maintained := append(append([]string{"Q", "H", "C"}, electrical...), l.axles...)
		body := []string(nil)
		if l.letter == "B" || l.letter == "V" {
			maintained, body = append(maintained, "T"), []string{"T"}
		}
		shelf := "Bay literature, " + m.name
		add(
			series{id: l.number + "-S-101", class: catalog.Maintenance, title: m.name + ": care and maintenance", keyed: "model", applies: applies,
				groups: maintained, shelf: shelf, media: l.maintenance, breaks: []breakpoint{month(l.b1), serial(l.b3)}},
			series{id: l.number + "-R-201", class: catalog.Repair, title: m.name + ": axles, brakes and steering", keyed: "model", applies: applies,
				groups: l.axles, shelf: shelf, media: l.rep, byGroup: true, breaks: []breakpoint{serial(at(l.b2, 2))}},
			series{id: l.number + "-R-203", class: catalog.Repair, title: m.name + ": hydraulics", keyed: "model", applies: applies,
				groups: []string{"H"}, shelf: shelf, media: "ps", breaks: []breakpoint{month(at(l.b3, -4))}},
			series{id: l.number + "-D-301", class: catalog.Diagnosis, title: m.name + ": fault finding", keyed: "model", applies: applies,
				groups: maintained, shelf: shelf, media: "ps", breaks: []breakpoint{superseded(at(l.b2, 1))}, key: "machine " + l.letter},
			series{id: l.number + "-H-401", class: catalog.PreDelivery, title: m.name + ": pre-delivery inspection", keyed: "model", applies: applies,
				shelf: "Delivery office", media: "ps", breaks: []breakpoint{superseded(at(l.b2, 0))}},
			series{id: l.number + "-X-501", class: catalog.Reference, title: m.name + ": values and capacities", keyed: "model", applies: applies,
				groups: maintained, shelf: shelf, media: "pps", breaks: []breakpoint{month(at(l.b1, 1)), month(l.b3)}},
			series{id: l.number + "-X-540", class: catalog.Reference, title: m.name + ": wiring diagrams", keyed: "model", applies: applies,
				groups: []string{"EE"}, shelf: "Diagram rack", media: "ps", breaks: []breakpoint{day(l.day)}},
		)
		if body != nil {
			add(series{id: l.number + "-R-206", class: catalog.Repair, title: m.name + ": bodies and attachments", keyed: "model", applies: applies,
				groups: body, shelf: shelf, media: "ps", byGroup: true, breaks: []breakpoint{serial(at(l.b2, -3))}})
		}
	}
	// Books that two lines share.
	for _, s := range []struct {
		number  string
		names   string
		applies catalog.Pattern
		b1, b2  string
		wiring  string
	}{
		{"10", "Dunlin", "N*", "2015-02", "2019-12", "2017-09-18"},
		{"11", "Lapwing and Curlew", "P*;U*", "2015-11", "2020-01", "2018-03-12"},
		{"20", "Dray", "L*", "2014-09", "2019-11", "2017-01-23"},
		{"30", "Beadle and Verger", "B*;V*", "2016-03", "2020-03", "2018-10-15"},
	} {
		add(
			series{id: s.number + "-R-202", class: catalog.Repair, title: s.names + ": engine installation", keyed: "model", applies: s.applies,
				groups: []string{"Q"}, shelf: "Bay literature, shared", media: "ps", breaks: []breakpoint{month(s.b2)}},
			series{id: s.number + "-R-204", class: catalog.Repair, title: s.names + ": electrical equipment", keyed: "model", applies: s.applies,
				groups: []string{"E"}, shelf: "Bay literature, shared", media: "ps", byGroup: true, breaks: []breakpoint{day(s.wiring)}},
			series{id: s.number + "-R-205", class: catalog.Repair, title: s.names + ": cab, frame and panels", keyed: "model", applies: s.applies,
				groups: []string{"C"}, shelf: "Bay literature, shared", media: "ps", breaks: []breakpoint{superseded(s.b1)}},
		)
	}

	engines := "Engine room"
	top := []string{"PA", "PB", "PC", "PD", "PE", "PF", "PH", "PJ", "PL"}
	add(
		series{id: "40-S-110", class: catalog.Maintenance, title: "Engines A and B: care and maintenance", keyed: "engine", applies: "3A*;3B*",
			groups: []string{"P"}, shelf: engines, media: "fp", breaks: []breakpoint{month("2016-01")}},
		series{id: "40-S-111", class: catalog.Maintenance, title: "Engine C: care and maintenance", keyed: "engine", applies: "3C*",
			groups: []string{"P"}, shelf: engines, media: "ps", parts: []catalog.Pattern{"3C15A;3C15B", "3C15C"}},
		series{id: "40-S-112", class: catalog.Maintenance, title: "Engines D and E: care and maintenance", keyed: "engine", applies: "4D*;4E*",
			groups: []string{"P"}, shelf: engines, media: "ps", breaks: []breakpoint{month("2019-03")}},
		series{id: "40-R-210", class: catalog.Repair, title: "Engines A and B: repair", keyed: "engine", applies: "3A*;3B*",
			groups: top, shelf: engines, media: "fps", byGroup: true, breaks: []breakpoint{month("2015-01"), month("2020-02")}},
		series{id: "40-R-211", class: catalog.Repair, title: "Engine C: repair", keyed: "engine", applies: "3C*",
			groups: top, shelf: engines, media: "ps", byGroup: true, breaks: []breakpoint{bySerial(engineSerialAt("3C", "2017-04"))}},
		series{id: "40-R-212", class: catalog.Repair, title: "Engine D: repair", keyed: "engine", applies: "4D*",
			groups: top, shelf: engines, media: "ps", breaks: []breakpoint{day("2019-06-17")}},
		series{id: "40-R-213", class: catalog.Repair, title: "Engine E: repair", keyed: "engine", applies: "4E*",
			groups: top, shelf: engines, media: "ps", breaks: []breakpoint{bySerial(engineSerialAt("4E", "2018-11"))}},
		series{id: "40-R-220", class: catalog.Repair, title: "Fuel rail injection and engine control", keyed: "engine", applies: "3C15C;4D20B;4D20C;4E*",
			groups: []string{"PG", "PK"}, shelf: engines, media: "ps", byGroup: true, breaks: []breakpoint{month("2019-10")}},
		series{id: "40-R-221", class: catalog.Repair, title: "Injection pumps and nozzles", keyed: "engine", applies: "3A*;3B*;3C15A;3C15B;4D20A",
			groups: []string{"PG", "PK"}, shelf: engines, media: "fp", breaks: []breakpoint{superseded("2015-05")}},
		series{id: "40-D-310", class: catalog.Diagnosis, title: "Engines A and B: fault finding", keyed: "engine", applies: "3A*;3B*",
			groups: []string{"P"}, shelf: engines, media: "ps", breaks: []breakpoint{month("2016-01")}, key: "small"},
		series{id: "40-D-311", class: catalog.Diagnosis, title: "Engines C and D with injection pump: fault finding", keyed: "engine", applies: "3C15A;3C15B;4D20A",
			groups: []string{"P"}, shelf: engines, media: "p", key: "mech"},
		series{id: "40-D-312", class: catalog.Diagnosis, title: "Engines with fuel rail: fault finding", keyed: "engine", applies: "3C15C;4D20B;4D20C;4E*",
			groups: []string{"P"}, shelf: engines, media: "pss", breaks: []breakpoint{month("2017-01"), month("2019-10")}, key: "rail"},
		series{id: "40-X-510", class: catalog.Reference, title: "Engines A and B: values", keyed: "engine", applies: "3A*;3B*",
			groups: []string{"P"}, shelf: engines, media: "pp", breaks: []breakpoint{month("2015-03")}},
		series{id: "40-X-511", class: catalog.Reference, title: "Engine C: values", keyed: "engine", applies: "3C*",
			groups: []string{"P"}, shelf: engines, media: "ps", parts: []catalog.Pattern{"3C15A;3C15B", "3C15C"}},
		series{id: "40-X-512", class: catalog.Reference, title: "Engines D and E: values", keyed: "engine", applies: "4D*;4E*",
			groups: []string{"P"}, shelf: engines, media: "ps", breaks: []breakpoint{month("2019-03")}},
	)

	drive := "Driveline bench"
	add(
		series{id: "50-S-120", class: catalog.Maintenance, title: "Hydrostatic transmissions: care and maintenance", keyed: "transmission", applies: "H*",
			groups: []string{"D"}, shelf: drive, media: "ps", breaks: []breakpoint{month("2018-01")}},
		series{id: "50-S-121", class: catalog.Maintenance, title: "Gear and shuttle transmissions: care and maintenance", keyed: "transmission", applies: "G*;E*",
			groups: []string{"D"}, shelf: drive, media: "ps", breaks: []breakpoint{superseded("2017-03")}},
		series{id: "50-R-230", class: catalog.Repair, title: "Hydrostatic transmissions of tractors: repair", keyed: "transmission", applies: "H1*;H2*",
			groups: []string{"D"}, shelf: drive, media: "ps", byGroup: true, parts: []catalog.Pattern{"H11A;H21A", "H11B;H21B;H22*"}},
		series{id: "50-R-231", class: catalog.Repair, title: "Hydrostatic drives of loaders and carriers: repair", keyed: "transmission", applies: "H3*;H4*",
			groups: []string{"D"}, shelf: drive, media: "ps", breaks: []breakpoint{day("2020-01-20")}},
		series{id: "50-R-232", class: catalog.Repair, title: "Gear transmissions: repair", keyed: "transmission", applies: "G*",
			groups: []string{"D"}, shelf: drive, media: "fp", byGroup: true, breaks: []breakpoint{bySerial(14501)}},
		series{id: "50-R-233", class: catalog.Repair, title: "Power-shuttle transmissions: repair", keyed: "transmission", applies: "E*",
			groups: []string{"D"}, shelf: drive, media: "ps", breaks: []breakpoint{bySerial(8201)}},
		series{id: "50-D-320", class: catalog.Diagnosis, title: "Hydrostatic drives: fault finding", keyed: "transmission", applies: "H*",
			groups: []string{"D"}, shelf: drive, media: "ps", breaks: []breakpoint{month("2018-01")}, key: "hydro"},
		series{id: "50-D-321", class: catalog.Diagnosis, title: "Gear and shuttle transmissions: fault finding", keyed: "transmission", applies: "G*;E*",
			groups: []string{"D"}, shelf: drive, media: "ps", breaks: []breakpoint{superseded("2018-09")}, key: "gear"},
		series{id: "50-X-530", class: catalog.Reference, title: "Transmissions: values", keyed: "transmission",
			groups: []string{"D"}, shelf: drive, media: "ps", breaks: []breakpoint{month("2017-03")}},
		series{id: "55-S-125", class: catalog.Maintenance, title: "Front axles: care and maintenance", keyed: "axle",
			groups: []string{"AA", "AB"}, shelf: drive, media: "p"},
		series{id: "55-R-240", class: catalog.Repair, title: "Front axles: repair", keyed: "axle",
			groups: []string{"AA", "AB"}, shelf: drive, media: "ps", parts: []catalog.Pattern{"A1*;A2*", "A3*;A4*"}},
		series{id: "55-X-535", class: catalog.Reference, title: "Front axles: values", keyed: "axle",
			groups: []string{"AA", "AB"}, shelf: drive, media: "p"},
		series{id: "56-S-128", class: catalog.Maintenance, title: "Loaders: care and maintenance", keyed: "loader",
			groups: []string{"L"}, shelf: drive, media: "p"},
		series{id: "56-R-245", class: catalog.Repair, title: "Front loaders of tractors: repair", keyed: "loader", applies: "Q1*;Q2*;Q3*",
			groups: []string{"L"}, shelf: drive, media: "ps", breaks: []breakpoint{month("2017-02")}},
		series{id: "56-R-246", class: catalog.Repair, title: "Lifting gear of wheel loaders: repair", keyed: "loader", applies: "Q5*;Q6*",
			groups: []string{"L"}, shelf: drive, media: "ps", breaks: []breakpoint{month("2017-05")}},
		series{id: "56-D-325", class: catalog.Diagnosis, title: "Loaders: fault finding", keyed: "loader",
			groups: []string{"L"}, shelf: drive, media: "p", key: "loader"},
		series{id: "56-H-405", class: catalog.PreDelivery, title: "Front loaders: mounting and handing over", keyed: "loader", applies: "Q1*;Q2*;Q3*",
			shelf: "Delivery office", media: "p"},
		series{id: "56-X-536", class: catalog.Reference, title: "Loaders: values", keyed: "loader",
			groups: []string{"L"}, shelf: drive, media: "p"},
	)

	add(
		series{id: "60-D-330", class: catalog.Diagnosis, title: "Control units and data network: fault finding", keyed: "model",
			applies: "??2C3*;??3D2*;??3E*;??4E*;B*;V*;UC*;LC*", shelf: "Control unit trolley", media: "pss",
			groups: []string{"EE"}, breaks: []breakpoint{month("2016-07"), month("2020-01")}, key: "network"},
		series{id: "60-N-900", class: catalog.BulletinDoc, title: "Bulletin binder: retrofits", keyed: "model", shelf: "Bulletin binder", media: "p"},
		series{id: "60-X-520", class: catalog.Reference, title: "Oils, coolants and fluids", keyed: "model", shelf: "Oil store", media: "p"},
		series{id: "60-X-545", class: catalog.Reference, title: "General tightening torques", keyed: "model", shelf: "Bay literature, shared", media: "p"},
	)
	return all
}
