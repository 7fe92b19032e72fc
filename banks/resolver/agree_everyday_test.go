//go:build !long

package resolver_test

const (
	randomLookups = 1_500
	demoLookups   = 1_000
)
