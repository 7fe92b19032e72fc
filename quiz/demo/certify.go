package demo

import (
	"fmt"
	"slices"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
)

// certify issues certificates to so many of those who passed an exam: to the
// technician that the demonstration is looked at with, and to others in the
// order in which they handed in.
func (f *filler) certify(x *exam, most int) error {
	order := slices.Clone(x.order)
	first := f.byLogin[unfinishedLogin].number
	slices.SortStableFunc(order, func(a, b string) int {
		switch {
		case a == first && b != first:
			return -1
		case b == first && a != first:
			return 1
		}
		return 0
	})
	for _, number := range order {
		a := x.attempts[number]
		if !a.Result.Passed || most == 0 {
			continue
		}
		most--
		c, err := f.issuer.Issue(f.ctx, f.coordinator, a.ID)
		if err != nil {
			return err
		}
		f.certificates = append(f.certificates, issued{x.title, number, c.Number})
	}
	return nil
}

// issued is a certificate of the history.
type issued struct{ exam, staff, number string }

// revoke takes back the last certificate of an exam.
func (f *filler) revoke(x *exam, reason string) error {
	i := len(f.certificates) - 1
	if i < 0 || f.certificates[i].exam != x.title {
		return fmt.Errorf("nobody has a certificate of %s", x.title)
	}
	_, err := f.issuer.Revoke(f.ctx, f.coordinator, f.certificates[i].number, reason)
	return err
}

// renew gives two people whose certificate of an exam is outdated the short quiz
// on what changed: the technician that the demonstration is looked at with, to
// whom it is due, and another, who works on it at once.
func (f *filler) renew(x *exam, at time.Time) error {
	done := 0
	for _, c := range f.certificates {
		p := f.byNumber(c.staff)
		due := p.login == unfinishedLogin
		if c.exam != x.title || p.login == "" || !p.Active(at) || !due && done > 0 {
			continue
		}
		kept, err := f.s.Certificate(f.ctx, c.number)
		if err != nil {
			return err
		}
		if f.issuer.Standing(f.ctx, kept).State != certificate.Outdated {
			continue
		}
		as, err := f.issuer.TopUp(f.ctx, f.coordinator, c.number)
		if err != nil {
			return err
		}
		if due {
			continue
		}
		form, err := f.marker.Form(f.ctx, as.Form)
		if err != nil {
			return err
		}
		top := &exam{title: as.Title, form: form, assignment: as, attempts: map[string]quiz.Attempt{}}
		f.out.Assignments[as.Title] = as.ID
		if err := f.screen(top, p, at.Add(time.Hour), len(form.Variants[0].Questions)); err != nil {
			return err
		}
		done++
		if top.attempts[p.number].Result.Passed {
			if _, err := f.issuer.Issue(f.ctx, f.coordinator, top.attempts[p.number].ID); err != nil {
				return err
			}
		}
	}
	return nil
}

func (f *filler) byNumber(staff string) *person {
	i := slices.IndexFunc(f.people, func(p *person) bool { return p.number == staff })
	return f.people[i]
}

// refresh asks the catalog in force about everything that was certified.
func (f *filler) refresh() error {
	_, err := f.issuer.Refresh(f.ctx, f.coordinator)
	return err
}
