package manager

// Skills lists the skills in the order of the form.
func Skills() []string { return skills() }
