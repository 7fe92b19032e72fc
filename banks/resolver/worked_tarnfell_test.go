package resolver_test

import (
	"testing"

	"rightpage/banks/resolver"
)

func TestWorkedLookupsInTarnfell(t *testing.T) { workThrough(t, "tarnfell/2026-1", workedInTarnfell) }

// Months come first here: at 100 h and 12 months the 250-hour service, the oil
// service, the cab air service and the wiper service are due.
func TestWorkedServicesOfTarnfellByMonths(t *testing.T) {
	r := resolver.New(demo(t, "tarnfell/2026-1"))
	q := parseLookup(t, "model PC2C2HA, built 2021-07", "due 100 h, 12 months; last 60 h, 11 months; duty normal")
	if got, want := servicesOf(r, q), "K1 K1 K1 K1 KC OL XJ"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// workedInTarnfell was worked on paper from the files of testdata/tarnfell/2026-1.
var workedInTarnfell = []worked{
	// --- Repair keyed by the model.
	{
		why:   "plate GTF P23 E G 0 M T 216200: check digit 363 mod 11 = 0; P23 is PC2C2HA, G and M are July 2021, so the card from 2019-10 (3C15C). Brakes (BB) are keyed by model; 11-R-201 breaks at no. 209950, so edition B; bulletin 923 is for PC* of 2021-06 to 2022-05.",
		on:    "plate GTFP23EG0MT216200",
		ask:   "job Adjust parking brake cable",
		want:  "found: 11-R-201-B section BB.7, see 60-N-923",
		trace: []string{"read code: model PC2C2HA, serial 216200, built 2021-07-01 to 2021-07-31", "data card: engine 3C15C, transmission H21B", "group: BB Parking brake", "key: model PC2C2HA", "location: 11-R-201-B section BB.7"},
	},
	{
		why:  "the last digit of the serial misread: the check digit is wrong",
		on:   "plate GTFP23EG0MT216201",
		ask:  "job Adjust parking brake cable",
		want: "not covered: read code",
	},
	{
		why:  "June 2022 is the month after the bulletin's last; the serials of the card from 2019-10 begin at 213750, beyond the break of 11-R-201, so no serial is needed",
		on:   "model PC2C2HA, built 2022-06",
		ask:  "job Adjust parking brake cable",
		want: "found: 11-R-201-B section BB.7",
	},
	{
		why:  "June 2021 is the first month of bulletin 923; “set” is adjust and “handbrake cable” the parking brake cable",
		on:   "model PC2C2HA, built 2021-06",
		ask:  "job set handbrake cable",
		want: "found: 11-R-201-B section BB.7, see 60-N-923",
	},
	{
		why:  "in German: Handbremsseil einstellen",
		on:   "model PC2C2HA, built 2021-05",
		ask:  "job Handbremsseil einstellen",
		want: "found: 11-R-201-B section BB.7",
	},
	{
		why:  "a letter missing and two exchanged",
		on:   "model PC2C2HA, built 2021-05",
		ask:  "job adjust parkng barke cable",
		want: "found: 11-R-201-B section BB.7",
	},
	{
		why:   "November 2016 has two cards, to and from the 7th; the first ends at no. 209196, before the break at 209950, the second runs across it",
		on:    "model PR2C2HA, built 2016-11",
		ask:   "job Adjust parking brake cable",
		want:  "ambiguous: perhaps 11-R-201-A page BB-4; perhaps 11-R-201-B section BB.7",
		trace: []string{"data card: transmission H21A", "data card: transmission H21B"},
	},
	{
		why:  "no. 209196 is the last of the first card",
		on:   "model PR2C2HA, built 2016-11, serial 209196",
		ask:  "job Adjust parking brake cable",
		want: "found: 11-R-201-A page BB-4",
	},
	{
		why:  "no. 209949 is on the second card and the last of edition A",
		on:   "model PR2C2HA, built 2016-11, serial 209949",
		ask:  "job Adjust parking brake cable",
		want: "found: 11-R-201-A page BB-4",
	},
	{
		why:  "no. 209950 is the first of edition B",
		on:   "model PR2C2HA, built 2016-12, serial 209950",
		ask:  "job Adjust parking brake cable",
		want: "found: 11-R-201-B section BB.7",
	},

	// --- A bulletin that takes the place of the procedure.
	{
		why:   "Verger of 2018: 31-S-101-B holds it (2016-05 on, to no. 604223; the card ends at 603331); bulletin 917 replaces it through 2019-04",
		on:    "model VC5D2HM, built 2018-05",
		ask:   "job Replace air dryer cartridge",
		want:  "found: 60-N-917 instead of 31-S-101-B page 99",
		trace: []string{"edition: 31-S-101-B", "amendment: 60-N-917"},
	},
	{
		why:  "May 2019 is the month after the bulletin's last",
		on:   "model VC5D2HM, built 2019-05",
		ask:  "job Replace air dryer cartridge",
		want: "found: 31-S-101-B page 99",
	},
	{
		why:  "no. 604500 is in edition C; there section BC.5 applies through 2023-01 and from 2024-09, BC.9 between",
		on:   "model VC5D2HM, built 2023-05, serial 604500",
		ask:  "job Replace air dryer cartridge",
		want: "found: 31-S-101-C section BC.9",
	},
	{
		why:  "September 2024 is back at BC.5",
		on:   "model VC5D2HM, built 2024-09, serial 604500",
		ask:  "job Replace air dryer cartridge",
		want: "found: 31-S-101-C section BC.5",
	},
	{
		why:  "without the serial (the card begins at 603585) edition B to 604223 and edition C from 604224 are both possible",
		on:   "model VC5D2HM, built 2023-05",
		ask:  "job Replace air dryer cartridge",
		want: "ambiguous: perhaps 31-S-101-B page 99; perhaps 31-S-101-C section BC.9",
	},
	{
		why:  "31-R-201-B (from no. 603168, through 2025-09), and supplement 929 replaces its bleeding order from 2019-06",
		on:   "model VT5D2HM, built 2021-03, serial 604000",
		ask:  "job Bleed brake circuit",
		want: "found: 60-N-929 instead of 31-R-201-B section BA.9",
	},
	{
		why:  "May 2019 is before the supplement's first month",
		on:   "model VT5D2HM, built 2019-05, serial 603200",
		ask:  "job vent brake circuit",
		want: "found: 31-R-201-B section BA.9",
	},
	{
		why:  "October 2025 has edition C, which supplement 929 does not name",
		on:   "model VK6E2HM, built 2025-10",
		ask:  "job Bleed brake circuit",
		want: "found: 31-R-201-C section BA.14",
	},
	{
		why:  "the sweeper's motor is not overhauled any more: bulletin 921 for BS* of 2019-02 to 2021-03",
		on:   "model BS3D2HM, built 2021-03",
		ask:  "job Overhaul brush motor",
		want: "found: 60-N-921 instead of 30-R-206-B section TC.9",
	},
	{
		why:  "a carrier without sweeping body: the book covers it, the procedures are for BS* alone",
		on:   "model BC2C2HM, built 2020-05, serial 504200",
		ask:  "job Overhaul brush motor",
		want: "not covered: location",
	},

	// --- A procedure that replaces another.
	{
		why:  "May 2017 is the first month of the procedure on EB-14, which replaces the one on EB-4",
		on:   "model PR2C2HA, built 2017-05",
		ask:  "job Replace turn signal lamp",
		want: "found: 11-R-204-A page EB-14",
	},
	{
		why:  "April 2017: EB-4 stands",
		on:   "model PR2C2HA, built 2017-04",
		ask:  "job renew indicator lamp",
		want: "found: 11-R-204-A page EB-4",
	},
	{
		why:  "11-R-204 breaks within March 2018; in edition A it is EB-14 by then",
		on:   "model PR2C2HA, built 2018-03",
		ask:  "job Replace turn signal lamp",
		want: "ambiguous: perhaps 11-R-204-A page EB-14; perhaps 11-R-204-B section EB.2",
	},
	{
		why:  "11 March 2018 is the last day of edition A",
		on:   "model PR2C2HA, built 2018-03-11",
		ask:  "job Replace turn signal lamp",
		want: "found: 11-R-204-A page EB-14",
	},
	{
		why:  "12 March 2018 is the first day of edition B",
		on:   "model PR2C2HA, built 2018-03-12",
		ask:  "job Replace turn signal lamp",
		want: "found: 11-R-204-B section EB.2",
	},
	{
		why:  "“take out” is remove; the card of 2014-08 ends at no. 402677, so 20-R-201-A, where BD-27 replaces BD-20 from 2014-08",
		on:   "model LC3D1HA, built 2014-08",
		ask:  "job take out steering wheel",
		want: "found: 20-R-201-A page BD-27",
	},
	{
		why:  "a month earlier BD-20 stands",
		on:   "model LC3D1HA, built 2014-07",
		ask:  "job take out steering wheel",
		want: "found: 20-R-201-A page BD-20",
	},
	{
		why:  "the Curlew's steering wheel of May 2017 has a page of its own: its page applies through 2017-04 and from 2017-06",
		on:   "model UR3D1GA, built 2017-05",
		ask:  "job Remove and install steering wheel",
		want: "found: 12-R-201-A page BD-22",
	},

	// --- Keyed by the engine.
	{
		why:   "plate L31 with month G and year K: L31 was LR3D1HA through 2016 and is LC3D2HA from 2019-06; 354 mod 11 = 2. Its 4D20C of 2019-07: 40-S-112-B, bulletin 916",
		on:    "plate GTFL31GG2KT405800",
		ask:   "job Replace fuel filter",
		want:  "found: 40-S-112-B section PF.5, see 60-N-916",
		trace: []string{"read code: model LC3D2HA", "key: engine 4D20C"},
	},
	{
		why:  "the same with year J, 345 mod 11 = 4: in July 2018 no model had the number L31",
		on:   "plate GTFL31GG4JT405800",
		ask:  "job Replace fuel filter",
		want: "not covered: read code",
	},
	{
		why:  "June 2015 alone has a page of its own for the filter of engine C",
		on:   "model PC2C2HA, built 2015-06",
		ask:  "job Replace fuel filter",
		want: "found: 40-S-111-A page 56",
	},
	{
		why:  "July 2015 is back on the old page",
		on:   "model PC2C2HA, built 2015-07",
		ask:  "job Replace fuel filter",
		want: "found: 40-S-111-A page 40",
	},
	{
		why:  "40-R-213 breaks at engine no. 15828; unknown, so both; in B the supplement replaces it for 4E24B",
		on:   "model UC3E2EA, built 2020-05",
		ask:  "job Replace cylinder head bolt",
		want: "ambiguous: perhaps 40-R-213-A page 64; perhaps 60-N-927 instead of 40-R-213-B section PB.5",
	},
	{
		why:   "engine 4E24B of Rushen, no. 16000",
		on:    "model UC3E2EA, built 2020-05, engine 4E24BR016000",
		ask:   "job Replace cylinder head bolt",
		want:  "found: 60-N-927 instead of 40-R-213-B section PB.5",
		trace: []string{"read code: engine 4E24B, serial 16000"},
	},
	{
		why:  "an engine 4E24A on the bench, no. 15000: edition A, and the supplement is for 4E24B alone",
		on:   "engine 4E24AT015000",
		ask:  "job Replace cylinder head bolt",
		want: "found: 40-R-213-A page 64",
	},
	{
		why:  "this model never had an engine E",
		on:   "model PR2C2HA, built 2017-05, engine 4E24B",
		ask:  "job Replace cylinder head bolt",
		want: "not covered: data card",
	},
	{
		why:  "4D20B of May 2016: the procedure is for 4D20B and C, the bulletin for February to September 2016",
		on:   "model UR3D1EA, built 2016-05",
		ask:  "job Replace oil pressure sensor",
		want: "found: 40-R-212-A page 227, see 60-N-910",
	},
	{
		why:  "4D20A has no such sensor: the book covers the group, the procedure does not apply",
		on:   "model UR3D1EA, built 2014-08",
		ask:  "job Replace oil pressure sensor",
		want: "not covered: location",
	},
	{
		why:   "40-R-221-B supersedes A from May 2015",
		on:    "model NR1A1HA, built 2015-05",
		ask:   "job Adjust injection pump",
		want:  "found: 40-R-221-B page 12",
		trace: []string{"edition: 40-R-221-B"},
	},
	{
		why:  "April 2015: A still stands, on film; the bulletin is for engine C",
		on:   "model NR1A1HA, built 2015-04",
		ask:  "job Adjust injection pump",
		want: "found: 40-R-221-A sheet 1 frame A8",
	},
	{
		why:  "2015, no month: A is not superseded for certain, B may apply",
		on:   "model NR1A1HA, built 2015",
		ask:  "job Adjust injection pump",
		want: "ambiguous: 40-R-221-A sheet 1 frame A8; perhaps 40-R-221-B page 12",
	},
	{
		why:  "3C15A of June 2014: bulletin 906 amends it",
		on:   "model PR2C1GA, built 2014-06",
		ask:  "job set injector pump",
		want: "found: 40-R-221-A sheet 1 frame A8, see 60-N-906",
	},

	// --- Keyed by gearbox, axle and loader.
	{
		why:   "gearbox E31B with 40 km/h, no. 8300: 50-R-233 breaks at 8201; the supplement is for E31B from 2025-01",
		on:    "model UR3D2EA, built 2025-03, gearbox E31B408300",
		ask:   "job Replace clutch pressure sensor",
		want:  "found: 50-R-233-B section DE.9, see 60-N-936",
		trace: []string{"key: transmission E31B"},
	},
	{
		why:  "no. 8200 is the last of edition A",
		on:   "model UR3D2EA, built 2024-12, gearbox E31B408200",
		ask:  "job Replace clutch pressure sensor",
		want: "found: 50-R-233-A page 99",
	},
	{
		why:  "the card of 2025 has E31B, not E31A",
		on:   "model UR3D2EA, built 2025-03, gearbox E31A408300",
		ask:  "job Replace clutch pressure sensor",
		want: "not covered: data card",
	},
	{
		why:  "Dunlin G of March 2012, gearbox no. 10000: on film, and bulletin 901 through 2012-05",
		on:   "model NR1A1GA, built 2012-03, gearbox G11A210000",
		ask:  "job Replace clutch release bearing",
		want: "found: 50-R-232-A sheet 1 frame A12, see 60-N-901",
	},
	{
		why:  "the gearbox of the big Dray changed on 20 January 2020, and so did the book",
		on:   "model LC4E1HA, built 2020-01-20",
		ask:  "job Replace high-pressure relief valve",
		want: "found: 50-R-231-B section DC.17",
	},
	{
		why:  "the day before",
		on:   "model LC4E1HA, built 2020-01-19",
		ask:  "job Replace high-pressure relief valve",
		want: "found: 50-R-231-A page 46",
	},
	{
		why:  "loader Q61B: 56-S-128-B supersedes A, the bulletin is for Q5* and Q6*",
		on:   "model LC4E2HA, built 2021-03",
		ask:  "job Check loader arm support",
		want: "found: 56-S-128-B page 9, see 60-N-930",
	},
	{
		why:  "loader Q21B in the months of bulletin 914",
		on:   "model PC2C3EA, built 2017-06",
		ask:  "job Check carrier locking pin",
		want: "found: 56-S-128-B page 20, see 60-N-914",
	},
	{
		why:   "a model whose card names no loader: the book is for all, the bulletin only if a Q2 or Q3 was put on",
		on:    "model PN2C2GA, built 2017-06",
		ask:   "job Check carrier locking pin",
		want:  "found: 56-S-128-B page 20, see 60-N-914 perhaps",
		trace: []string{"key: loader not known: read its plate"},
	},

	// --- Words that do not settle it.
	{
		why:  "“lift ram” is the cylinder of the loader, of the rear linkage and of the front plate; for the last no book covers a Lapwing",
		on:   "model PC2C2HA, built 2021-07",
		ask:  "job remove lift ram",
		want: "ambiguous: 11-R-203-B section HC.1; 56-R-245-B section LB.2",
	},
	{
		why:  "the sales name is no model code",
		on:   "model Lapwing 33 HC, built 2021-07",
		ask:  "job Adjust parking brake cable",
		want: "not covered: read code",
	},
	{
		why:  "nothing like it in the list",
		on:   "model PC2C2HA, built 2021-07",
		ask:  "job replace warp coil",
		want: "not covered: component",
	},

	// --- Specifications.
	{
		why:  "4D20A at 10 °C: 10 to 50 is 15W-40",
		on:   "model UR3D1EA, built 2014-08",
		ask:  "value engine oil grade; at 10 °C",
		want: "found: SAE 15W-40 60-X-520-A page 14",
	},
	{
		why:  "at 9 °C: -20 to 9 is 10W-40",
		on:   "model UR3D1EA, built 2014-08",
		ask:  "value SAE grade; at 9 °C",
		want: "found: SAE 10W-40 60-X-520-A page 13",
	},
	{
		why:  "4D20C at -26 °C, low ash",
		on:   "model LC3D2HA, built 2020-02",
		ask:  "value oil viscosity; at -26 °C",
		want: "found: SAE 0W-30 low ash 60-X-520-A page 15",
	},
	{
		why:  "between 15 and 25 °C two hydraulic oils are right",
		on:   "model LC3D2HA, built 2020-02",
		ask:  "value hydraulic oil grade; at 20 °C",
		want: "ambiguous: ISO VG 46 60-X-520-A page 20; ISO VG 68 60-X-520-A page 21",
	},
	{
		why:  "4D20B of 2018: 40-X-512-A runs through 2019-02",
		on:   "model VC5D2HM, built 2018-05",
		ask:  "value engine oil capacity; condition with filter",
		want: "found: 7.4 L 40-X-512-A page 20",
	},
	{
		why:  "of March 2019: edition B, without filter",
		on:   "model VC5D2HM, built 2019-03",
		ask:  "value oil fill; condition without filter",
		want: "found: 6.7 L 40-X-512-B section PC.4",
	},
	{
		why:  "4E24B through 2021-02",
		on:   "model UC3E2EA, built 2021-02",
		ask:  "value inlet tappet gap",
		want: "found: 0.25 to 0.29 mm 40-X-512-B section PB.3",
	},
	{
		why:  "from 2021-03 there is a new value in the same place",
		on:   "model UC3E2EA, built 2021-03",
		ask:  "value intake valve clearance",
		want: "found: 0.28 to 0.32 mm 40-X-512-B section PB.3",
	},
	{
		why:  "the camshaft of 3C15C changed in 2024-11: supplement 931",
		on:   "model PC2C2HA, built 2024-11",
		ask:  "value exhaust valve clearance; condition cold",
		want: "found: 0.24 to 0.28 mm 40-X-511-B section PB.5, see 60-N-931",
	},
	{
		why:  "PC* through 2021-05",
		on:   "model PC2C2HA, built 2021-05",
		ask:  "value handbrake clicks",
		want: "found: 4 to 6 clicks 11-X-501-C section BB.1",
	},
	{
		why:  "PC* from 2021-06",
		on:   "model PC2C2HA, built 2021-06",
		ask:  "value handbrake clicks",
		want: "found: 5 to 7 clicks 11-X-501-C section BB.1",
	},
	{
		why:  "3C15B, whose bolts changed at engine no. 20000, which is not known",
		on:   "model PC2C2HA, built 2016-01",
		ask:  "value head bolt torque",
		want: "ambiguous: perhaps 78 to 83 N·m 40-X-511-A page 16; perhaps 83 to 88 N·m 40-X-511-A page 16",
	},

	// --- Complaint, guide, test, outcome.
	{
		why:  "Verger of 2019-06: 31-D-301-B supersedes A from 2018-12; its guide sends this to chapter 14",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint handbrake does not hold",
		want: "found: 31-D-301-B chapter 14 step 1",
	},
	{
		why:  "of 2018-11: A, chapter 7",
		on:   "model VC5D2HM, built 2018-11",
		ask:  "complaint handbrake does not hold",
		want: "found: 31-D-301-A chapter 7 step 1",
	},
	{
		why:  "clicks not as specified: step 2, the cable",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint handbrake does not hold; step 1 failed",
		want: "found: 31-D-301-B chapter 14 step 2",
	},
	{
		why:  "the cable moves freely: step 3, the lining",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint handbrake does not hold; step 2 passed",
		want: "found: 31-D-301-B chapter 14 step 3",
	},
	{
		why:  "two letters t",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint battery flatt after the weekend",
		want: "found: 31-D-301-B chapter 1 step 1",
	},
	{
		why:  "lights of the left side",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint blinkers flash too fast; side left",
		want: "found: 31-D-301-B chapter 2 step 1 left",
	},
	{
		why:  "which side is not said",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint blinkers flash too fast",
		want: "ambiguous: 31-D-301-B chapter 2 step 1 left; 31-D-301-B chapter 2 step 1 right",
	},
	{
		why:  "no voltage on the left: the fuse, for both sides",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint blinkers flash too fast; side left; step 1 failed",
		want: "found: 31-D-301-B chapter 2 step 2",
	},
	{
		why:  "the fuse is right: the earth of the right side",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint blinkers flash too fast; side right; step 2 passed",
		want: "found: 31-D-301-B chapter 2 step 3 right",
	},
	{
		why:  "the right hub gets hotter: chapter 12, steps 4 and 5 of that side",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint pulls to one side when I brake; side right; step 3 failed",
		want: "found: 31-D-301-B chapter 12 step 4 right; 31-D-301-B chapter 12 step 5 right",
	},
	{
		why:  "tipping pressure too low: chapter 16, steps 3 and 4",
		on:   "model VC5D2HM, built 2019-06",
		ask:  "complaint battery flat after the weekend; chapter 7 step 2 failed",
		want: "found: 31-D-301-B chapter 16 step 3; 31-D-301-B chapter 16 step 4",
	},
	{
		why:  "H41A of 2017-12: 50-D-320-A",
		on:   "model VC5D2HM, built 2017-12",
		ask:  "complaint creeps with feet off the pedals",
		want: "found: 50-D-320-A chapter 1 step 1",
	},

	// --- Trouble codes.
	{
		why:  "4D20C of 2020-02: 40-D-312-C from 2019-11; bulletin 916 names the code",
		on:   "model LC3D2HA, built 2020-02",
		ask:  "code 1347-5",
		want: "found: 40-D-312-C section 17, see 60-N-916",
	},
	{
		why:  "from the bytes: 43 05 is 1347, FMI 5 (SAE J1939-73), edition B in 2019-10",
		on:   "model LC3D2HA, built 2019-10",
		ask:  "code 43 05 05 01; system engine",
		want: "found: 40-D-312-B section 7, see 60-N-916",
	},
	{
		why:  "91 02 is B1102 (ISO 15031-6): 10 is B, then 1102",
		on:   "model VC5D2HM, built 2018-05",
		ask:  "code 91 02",
		want: "found: 60-D-330-B section 1",
	},
	{
		why:  "the module and its codes ended with 2019",
		on:   "model VC5D2HM, built 2020-01",
		ask:  "code B1102",
		want: "not covered: component",
	},
	{
		why:  "4E24A has no particulate filter: the row of 40-D-312-B is for 4D20C and 4E24B, and edition C begins in 2019-11",
		on:   "model UC3E1EA, built 2018-12",
		ask:  "code 3719-16",
		want: "not covered: publication",
	},
	{
		why:  "4E24B of 2019-05",
		on:   "model UC3E1EA, built 2019-05",
		ask:  "code SPN 3719 FMI 16",
		want: "found: 40-D-312-B section 19",
	},
	{
		why:  "3C15C of 2025-07: supplement 939 for this engine from 2025-06",
		on:   "model PC2C2HA, built 2025-07",
		ask:  "code 3719-16",
		want: "found: 40-D-312-C section 10, see 60-N-939",
	},

	// --- Services.
	{
		why:    "the sheet of the tipper: H10 to H15, H17 to H23, H26, H27 and H29, in 31-H-401-B, which supersedes A from 2018-11",
		on:     "model VT6E2HM, built 2024-05",
		ask:    "job PDI",
		want:   "found, of them: H10 31-H-401-B section OP.6; H27 31-H-401-B section OP.20; H29 31-H-401-B section OP.21",
		places: 16,
	},
	{
		why:    "of October 2018: A",
		on:     "model VT5D2HM, built 2018-10",
		ask:    "job handover sheet",
		want:   "found, of them: H10 31-H-401-A page 10; H27 31-H-401-A page 24",
		places: 16,
	},
	{
		why:  "4D20A, normal duty: 40-S-112-A",
		on:   "model UR3D1EA, built 2014-08",
		ask:  "job engine oil service; duty normal",
		want: "found: E10 40-S-112-A page 15; E11 40-S-112-A page 16",
	},
	{
		why:  "no duty said: there is a row for each, so each is only possible",
		on:   "model UR3D1EA, built 2014-08",
		ask:  "job oil service",
		want: "ambiguous: perhaps E10 40-S-112-A page 15; perhaps E11 40-S-112-A page 16",
	},
	{
		why:  "3C15C of March 2020: bulletin 918 names the service and the operation",
		on:   "model PC2C2HA, built 2020-03",
		ask:  "job Particulate filter service",
		want: "found: E23 40-S-111-B section OP.13, see 60-N-918",
	},
	{
		why:   "road check: first 1000 km, then every 5000, so 6000 km; M21 is amended for V* from 2018-03",
		on:    "model VC5D2HM, built 2018-05",
		ask:   "due 6000 km; last 5500 km; duty normal",
		want:  "found: M20 31-S-101-B page 18; M21 31-S-101-B page 19, see 60-N-915; M33 31-S-101-B page 27",
		trace: []string{"component: RD"},
	},
	{
		why:  "5999 km: not yet",
		on:   "model VC5D2HM, built 2018-05",
		ask:  "due 5999 km; last 5500 km; duty normal",
		want: "not covered: component",
	},
	{
		why:    "250 h at 8 months: K1 of axle, engine, model and gearbox, 2 + 4 + 21 + 3 operations; nothing else has a point between 200 and 250 h or 7 and 8 months. M31 is amended",
		on:     "model PC2C2HA, built 2021-07",
		ask:    "due 250 h, 8 months; last 200 h, 7 months; duty normal",
		want:   "found, of them: F12 55-S-125-A page 15; E12 40-S-111-B section OP.3; L12 56-S-128-B page 27; M31 11-S-101-C section OP.18, see 60-N-923; T16 50-S-120-B section OP.8",
		places: 30,
	},
}
