package marks

import (
	"context"

	"rightpage/quiz"
	"rightpage/server/web"
)

// errWorking is why a coordinator who is working on a quiz does not see its key.
var errWorking = &quiz.Error{Code: quiz.Closed, Text: "you are working on this quiz yourself", Mend: "hand in first; then its marks and keys are shown"}

// formsUnderWay lists the forms at which the visitor has an attempt that is not
// over: a coordinator can be a technician too.
func (p *Pages) formsUnderWay(c *web.Context) (map[string]bool, error) {
	ctx := c.Ctx()
	attempts, err := p.store.AttemptsOf(ctx, c.Visitor.ID)
	if err != nil {
		return nil, err
	}
	forms := map[string]bool{}
	for _, a := range attempts {
		if a.State.Ended() {
			continue
		}
		of, err := p.store.Assignment(ctx, a.Assignment)
		if err != nil {
			return nil, err
		}
		forms[of.Form] = true
	}
	return forms, nil
}

// showsKey guards a route about an assignment that shows its key, or which
// answers are right: not to somebody who is working on the same form.
func (p *Pages) showsKey(r web.Route) web.Route {
	handle := r.Handle
	r.Handle = func(c *web.Context) error {
		form, err := p.formOf(c.Ctx(), c.Param("assignment"), c.Param("dispute"))
		if err != nil {
			return err
		}
		under, err := p.formsUnderWay(c)
		if err != nil {
			return err
		}
		if under[form] {
			return errWorking
		}
		return handle(c)
	}
	return r
}

// formOf gives the form of an assignment, or of what is disputed.
func (p *Pages) formOf(ctx context.Context, assignment, dispute string) (string, error) {
	if dispute != "" {
		v, err := p.marker.Dispute(ctx, dispute)
		return v.Assignment.Form, err
	}
	a, err := p.store.Assignment(ctx, assignment)
	return a.Form, err
}
