package administrator

import (
	"time"

	"rightpage/quiz/store"
	"rightpage/server/web"
)

// once tells whether a form with a key counts, on whatever server it arrives: the
// first time it gives a function that takes it back, for when what was to be done
// fails; after that nil.
func (p *Pages) once(c *web.Context, what, key string) (undo func(), err error) {
	name := "once " + what + " " + c.Visitor.ID + " " + key
	first, _, err := p.app.Store.Allow(c.Ctx(), name, store.Rate{Burst: 1, Every: 24 * time.Hour})
	if err != nil || !first {
		return nil, err
	}
	return func() { _ = p.app.Store.Forgive(c.Ctx(), name) }, nil
}
