//go:build browser

package technician_test

import (
	"context"

	"rightpage/server/browsertest"
)

// browser starts a Chromium when it is first asked for.
func (x *shop) browser() context.Context {
	if x.chromium == nil {
		x.chromium = browsertest.Start(x.t)
	}
	return x.chromium
}
