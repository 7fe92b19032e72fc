//go:build long

package resolver_test

const (
	randomLookups = 100_000
	demoLookups   = 50_000
)
