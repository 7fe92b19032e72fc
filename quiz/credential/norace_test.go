//go:build !race

package credential

// underRace says that the race detector is on.
const underRace = false
