//go:build race

package credential

// underRace says that the race detector is on, which makes each check tens of
// times slower and finds nothing new in repeating it for every byte.
const underRace = true
