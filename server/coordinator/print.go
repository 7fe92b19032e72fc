package coordinator

import (
	"fmt"
	"net/http"
	"slices"

	"rightpage/quiz"
	"rightpage/quiz/paper"
	"rightpage/server/web"
)

// printPage is the page on which is chosen what to print for whom.
type printPage struct {
	quiz.Assignment
	FormTitle string
	Paper     string
	People    []printRow
	Printable int
}

// PageTitle names the page.
func (p printPage) PageTitle() string { return p.Title }

// printRow is a person to print for.
type printRow struct {
	ID, Name, Site string
	Variant        string // of the next attempt
	Done           bool   // no attempt is left, or one is under way
	More           bool   // is given more time
}

// next tells which attempt of a person is next, from 1, and whether it may still
// be made: none is left, or one is under way, otherwise.
func next(a *quiz.Assignment, attempts []quiz.Attempt, person string) (number int, free bool) {
	free = true
	for _, t := range attempts {
		if t.Person == person {
			number = max(number, t.Number)
			free = free && t.State.Ended()
		}
	}
	return number + 1, free && number < a.Attempts
}

func (p *Pages) printPage(c *web.Context) error {
	ctx := c.Ctx()
	a, f, err := p.assigned(c)
	if err != nil {
		return err
	}
	s, err := p.store.Settings(ctx)
	if err != nil {
		return err
	}
	attempts, err := p.store.AttemptsAt(ctx, a.ID)
	if err != nil {
		return err
	}
	people, sites, err := p.addressed(c, &a)
	if err != nil {
		return err
	}
	page := printPage{Assignment: a, FormTitle: f.Title, Paper: s.Paper}
	for _, x := range people {
		n, free := next(&a, attempts, x.ID)
		page.People = append(page.People, printRow{x.ID, x.Name, sites[x.Site], f.Variants[quiz.VariantFor(a.ID, x.ID, n, len(f.Variants))].Name, !free,
			a.LimitFor(x.ID) > a.Limit || !a.ClosesFor(x.ID).Equal(a.Close)})
		if free {
			page.Printable++
		}
	}
	return c.Page(p.set, "coordinator-print", page)
}

// addressed lists the people to whom an assignment is addressed, by name, and the
// names of the sites.
func (p *Pages) addressed(c *web.Context, a *quiz.Assignment) ([]quiz.Person, map[string]string, error) {
	people, err := p.store.People(c.Ctx())
	if err != nil {
		return nil, nil, err
	}
	sites, err := p.store.Sites(c.Ctx())
	if err != nil {
		return nil, nil, err
	}
	names := map[string]string{}
	for _, s := range sites {
		names[s.ID] = s.Name
	}
	people = slices.DeleteFunc(people, func(x quiz.Person) bool { return !x.Active(c.Now()) || !a.For(x) })
	slices.SortFunc(people, byName)
	return people, names, nil
}

// booklets prints the booklets and answer sheets of people into one document,
// each with the person's variant. It is written as it is laid out.
func (p *Pages) booklets(c *web.Context) error {
	ctx := c.Ctx()
	a, f, err := p.assigned(c)
	if err != nil {
		return err
	}
	o, s, err := p.printOptions(c)
	if err != nil {
		return err
	}
	query := c.QueryParams()
	o.LargePrint = query.Get("set") == "large"
	attempts, err := p.store.AttemptsAt(ctx, a.ID)
	if err != nil {
		return err
	}
	people, sites, err := p.addressed(c, &a)
	if err != nil {
		return err
	}
	chosen, large := query["person"], query["large"]
	people = slices.DeleteFunc(people, func(x quiz.Person) bool {
		return !slices.Contains(chosen, x.ID) || slices.Contains(large, x.ID) != o.LargePrint
	})
	if len(people) == 0 {
		return &quiz.Error{Code: quiz.Invalid, Text: "nobody is chosen to print for", Mend: "go back and tick people; large print is for those with the tick in that column"}
	}
	cautions, err := p.cautions(ctx, f)
	if err != nil {
		return err
	}
	what := query.Get("what")
	run := paper.RunOptions{BookletOptions: o, Booklets: what != "sheet", Sheets: what != "booklet", Created: c.Now()}
	h := c.Response().Header()
	name := web.FileName("booklets", a.Title)
	if o.LargePrint {
		name = web.FileName("booklets", a.Title, "large")
	}
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", `attachment; filename="`+name+`.pdf"`)
	h.Set("Cache-Control", "no-store")
	_, err = paper.WriteRun(c.Response(), func(yield func(paper.Booklet, error) bool) {
		for _, x := range people {
			if ctx.Err() != nil {
				yield(paper.Booklet{}, ctx.Err())
				return
			}
			n, _ := next(&a, attempts, x.ID)
			b := paper.BookletOf(f.TestForm, &f.Variants[quiz.VariantFor(a.ID, x.ID, n, len(f.Variants))], x.ID, x.Name, s.Organisation, cautions)
			b.Title, b.Site, b.TimeLimit = a.Title, sites[x.Site], a.LimitFor(x.ID)
			if !yield(b, nil) {
				return
			}
		}
	}, run)
	if err == nil {
		return nil
	}
	if !c.Response().Committed {
		for _, k := range []string{"Content-Type", "Content-Disposition", "Cache-Control"} {
			h.Del(k)
		}
		return fmt.Errorf("print booklets: %w", err)
	}
	// Part of it has gone out: the download is broken off, lest it look whole.
	p.app.Log.ErrorContext(ctx, "print booklets", "error", err)
	panic(http.ErrAbortHandler)
}
