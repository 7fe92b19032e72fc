package demo

import "rightpage/quiz"

// The organisation and its sites.
const Organisation = "Wexcombe Estate & Farm Services"

// site is a place of work.
type site struct{ name, zone string }

var sites = [...]site{
	{"Wexcombe Yard", "Europe/London"},
	{"Harrow Mill", "Europe/London"},
	{"Penny Quay", "Europe/London"},
}

// invented is somebody who works there. Names are invented; any likeness to
// real people is chance.
type invented struct {
	name   string
	number string
	site   int
	login  string // empty: works on paper and has no account
	locale string
	roles  []quiz.Role
	apart  bool
	since  int // weeks before the present at which the person came; 0: always there
	left   int // weeks before the present at which the person left; 0: still there
	skill  skill
}

// skill is how somebody looks things up.
type skill struct {
	ability float64  // logits above the average question at the start
	gain    float64  // logits learned from one explanation, while there is much to learn
	pace    float64  // ln of how much faster than usual
	weekly  float64  // answers a week on their own
	weak    []string // names of the steps of a lookup that go wrong often
}

func technician() []quiz.Role { return []quiz.Role{quiz.Technician} }

// staff lists the 26 people of the organisation.
func staff() []invented {
	return []invented{
		{name: "Rosalind Ashcombe", number: "W001", site: 0, login: "rosalind", roles: []quiz.Role{quiz.Coordinator}},
		{name: "Desmond Okarro", number: "W002", site: 0, login: "desmond", roles: []quiz.Role{quiz.Manager}},
		{name: "Mirela Stanforth", number: "W003", site: 0, login: "mirela", roles: []quiz.Role{quiz.Administrator}},

		{name: "Callum Thistlewood", number: "W011", site: 0, login: "callum", roles: technician(), skill: skill{0.3, 0.22, 0.1, 11, []string{"edition"}}},
		{name: "Ines Valderra", number: "W012", site: 0, login: "ines", locale: "es", roles: technician(), skill: skill{0.7, 0.3, 0.15, 13, []string{"data card"}}},
		{name: "Harbinder Solgate", number: "W013", site: 0, login: "harbinder", roles: technician(), skill: skill{1.7, 0.12, 0.3, 6, nil}},
		{name: "Maeve Quillinan", number: "W014", site: 0, login: "maeve", roles: technician(), skill: skill{1.2, 0.18, 0.2, 9, []string{"amendment"}}},
		{name: "Tobias Renwick", number: "W015", site: 0, login: "tobias", locale: "de", roles: technician(), skill: skill{-0.4, 0.34, -0.1, 15, []string{"read code", "edition"}}},
		{name: "Adaeze Combley", number: "W016", site: 0, login: "adaeze", roles: technician(), skill: skill{0.1, 0.26, 0, 10, []string{"group"}}},
		{name: "Wilf Garraway", number: "W017", site: 0, roles: technician(), apart: true, skill: skill{1.0, 0.1, -0.2, 0, []string{"amendment", "edition"}}},
		{name: "Bronwen Tallis", number: "W018", site: 0, login: "bronwen", roles: technician(), skill: skill{0.5, 0.2, 0.1, 8, []string{"location"}}},
		{name: "Ruben Achterveld", number: "W019", site: 0, login: "ruben", roles: technician(), since: 11, skill: skill{-0.9, 0.36, -0.25, 18, []string{"classify", "group"}}},
		{name: "Shirin Doveton", number: "W020", site: 0, login: "shirin", roles: []quiz.Role{quiz.Technician, quiz.Coordinator}, skill: skill{2.0, 0.1, 0.35, 5, nil}},

		{name: "Jarek Millbourne", number: "W031", site: 1, login: "jarek", roles: technician(), skill: skill{0.2, 0.28, 0, 12, []string{"location"}}},
		{name: "Noor Haldane", number: "W032", site: 1, login: "noor", roles: technician(), skill: skill{0.9, 0.2, 0.2, 9, []string{"edition"}}},
		{name: "Cosmo Bellwether", number: "W033", site: 1, login: "cosmo", roles: technician(), apart: true, skill: skill{0.6, 0.08, 0.4, 3, []string{"location", "read code"}}},
		{name: "Yuki Thornaby", number: "W034", site: 1, login: "yuki", roles: technician(), skill: skill{1.3, 0.24, 0.1, 10, nil}},
		{name: "Abel Strickmoor", number: "W035", site: 1, roles: technician(), skill: skill{0.0, 0.12, -0.3, 0, []string{"key", "group"}}},
		{name: "Leontyne Marsh-Adair", number: "W036", site: 1, login: "leontyne", locale: "fr", roles: technician(), skill: skill{0.4, 0.3, 0.05, 14, []string{"component"}}},
		{name: "Padraig Sunnock", number: "W037", site: 1, login: "padraig", roles: technician(), skill: skill{-0.2, 0.16, -0.15, 5, []string{"edition", "amendment"}}},
		{name: "Tamika Rowsell", number: "W038", site: 1, login: "tamika", roles: technician(), since: 8, skill: skill{-0.6, 0.38, 0, 17, []string{"data card"}}},

		{name: "Emrys Kettlewell", number: "W051", site: 2, login: "emrys", roles: technician(), skill: skill{1.5, 0.14, 0.1, 7, []string{"read code"}}},
		{name: "Oksana Pargeter", number: "W052", site: 2, login: "oksana", roles: technician(), skill: skill{0.8, 0.32, 0.25, 12, []string{"group"}}},
		{name: "Gus Merridew", number: "W053", site: 2, roles: technician(), skill: skill{0.3, 0.1, -0.4, 0, []string{"location", "edition"}}},
		{name: "Farida Loxwell", number: "W054", site: 2, login: "farida", roles: technician(), skill: skill{0.1, 0.26, 0, 11, []string{"edition", "location"}}},
		{name: "Stellan Whyke", number: "W055", site: 2, login: "stellan", roles: technician(), left: 7, skill: skill{0.9, 0.12, 0.1, 6, nil}},
	}
}
