package catalog

// Meta is catalog.yaml.
type Meta struct {
	Title     string            `yaml:"title"`
	Maker     string            `yaml:"maker"`
	Revision  string            `yaml:"revision"`
	Issued    string            `yaml:"issued"`   // ISO 8601-1 date
	Language  string            `yaml:"language"` // BCP 47; "" means en
	Primary   string            `yaml:"primary"`  // unit that keys what names no other; "" means model
	Units     Units             `yaml:"units"`
	Limits    LimitStyle        `yaml:"limits"`
	Actions   map[string]Action `yaml:"actions"`
	Jobs      map[string]Job    `yaml:"jobs"`      // jobs asked for by name that are a service of the schedule
	Hazards   map[string]string `yaml:"hazards"`   // hazard word → caution shown with every answer that carries it
	Cautions  []string          `yaml:"cautions"`  // shown with everything
	Resembles [][]string        `yaml:"resembles"` // groups that technicians confuse, for the exercises
}

// Units names the units of the schedule's counters.
type Units struct {
	Distance string `yaml:"distance"` // km, mi; "" where no distance is counted
	Hours    string `yaml:"hours"`    // h
}

// LimitStyle says how the literature prints a limit.
//
// Style words uses the words From, Through and Serial. Style arrow-after
// prints the arrow after a date that is a from limit and before one that is a
// through limit; arrow-before prints it the other way round.
type LimitStyle struct {
	Style   string `yaml:"style"` // words, arrow-after, arrow-before
	From    string `yaml:"from"`
	Through string `yaml:"through"`
	Serial  string `yaml:"serial"` // word before a serial, "no." unless given
	Arrow   string `yaml:"arrow"`  // "→" unless given
}

// Action is a word for what is done to a component, and the classes of
// literature that describe it.
type Action struct {
	Classes  []Class  `yaml:"classes"`
	Synonyms []string `yaml:"synonyms"` // "renew", "de:erneuern"
}

// Job is a job that is asked for by name and stands in the schedule, such as
// the pre-delivery sheet.
type Job struct {
	Service  string   `yaml:"service"`
	Synonyms []string `yaml:"synonyms"`
}
