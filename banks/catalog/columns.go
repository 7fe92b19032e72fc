package catalog

// Columns lists, for each table, its columns in the order in which they are
// written. The effectivity of a record stands either in from, through,
// serial_from and serial_through (one range), or in effectivity (one or more
// ranges as the literature prints them, separated by semicolons).
func Columns() []TableColumns {
	location := []string{"page", "sheet", "frame", "section"}
	limits := []string{"from", "through", "serial_from", "serial_through", "effectivity"}
	cols := func(parts ...[]string) []string {
		var all []string
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	s := func(names ...string) []string { return names }
	return []TableColumns{
		{"schemes", s("scheme", "kind", "field", "first", "length", "value", "means", "from", "through", "check", "pack")},
		{"models", s("model", "sales_name", "engine", "transmission", "units", "built_from", "built_through", "serial_from", "serial_through")},
		{"groups", s("group", "parent", "division", "title", "keyed_by")},
		{"components", s("term", "synonyms", "group", "part_of")},
		{"publications", cols(s("publication", "class", "title", "series", "medium", "keyed_by", "applies_to", "groups"), limits, s("revision", "supersedes", "shelf"))},
		{"procedures", cols(s("procedure", "job", "action", "component", "publication"), location, s("applies_to"), limits, s("hazards", "replaces"))},
		{"schedule", cols(s("service", "title", "class", "keyed_by", "applies_to", "duty", "first_distance", "first_hours", "first_months",
			"every_distance", "every_hours", "every_months", "operations"), limits)},
		{"operations", cols(s("operation", "title", "publication"), location, s("hazards"))},
		{"specifications", cols(s("specification", "quantity", "synonyms", "value", "low", "high", "unit", "ambient_from", "ambient_through", "condition",
			"group", "keyed_by", "applies_to"), limits, s("publication"), location)},
		{"guide", cols(s("system", "complaints", "keyed_by", "applies_to"), limits, s("publication", "section"))},
		{"tests", s("publication", "chapter", "step", "tests", "do", "expect", "fail_chapter", "fail_steps", "side", "hazards")},
		{"troublecodes", cols(s("system", "code", "meaning", "scheme", "keyed_by", "applies_to"), limits, s("publication"), location, s("read", "clear"))},
		{"bulletins", cols(s("bulletin", "issued", "kind", "subject", "keyed_by", "applies_to"), limits, s("amends", "replaces", "instruction", "shelf"))},
	}
}

// TableColumns is the name of a table and the names of its columns.
type TableColumns struct {
	Table   string
	Columns []string
}
