package demo

import (
	"fmt"
	"slices"
	"time"

	"rightpage/banks"
	"rightpage/banks/resolver"
	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/library"
)

// plan plans the half year.
func (f *filler) plan() {
	f.planPractice()

	kinds := func(names ...string) func(*banks.Question) bool {
		return func(q *banks.Question) bool { return slices.Contains(names, q.Kind) }
	}
	start := &exam{title: "Where we stand", revision: 0, questions: 24, cut: 0.6, seed: 11}
	f.exam(start, 25, 0)
	f.at(f.day(23, 0, 7, 40), "revision 2025-2", func(time.Time) error { return f.next(1) })

	editions := &exam{title: "Editions and limits", revision: 1, questions: 16, cut: 0.6, seed: 12, limit: time.Hour,
		only: kinds("edition", "publication", "location", "latest")}
	f.exam(editions, 21, 0)
	f.at(f.day(21, 4, 17, 0), "certificates", func(time.Time) error { return f.certify(editions, 4) })
	f.at(f.day(17, 1, 9, 0), "settings", func(time.Time) error { return f.saveSettings(12) })

	// What the next revision changes most: certificates in it will be outdated.
	touched := &exam{title: "Books and bulletins of the day", revision: 1, questions: 16, cut: 0.6, seed: 13, limit: time.Hour, later: 2}
	f.exam(touched, 13, 0)
	f.at(f.day(13, 4, 17, 0), "certificates", func(time.Time) error { return f.certify(touched, 4) })

	whole := &exam{title: "Whole lookups", revision: 1, questions: 8, cut: 0.6, seed: 14, limit: 90 * time.Minute, only: kinds("chase")}
	f.exam(whole, 9, 0)
	f.at(f.day(9, 4, 17, 0), "certificates", func(time.Time) error { return f.certify(whole, 3) })
	f.at(f.day(8, 2, 9, 30), "a certificate revoked", func(time.Time) error {
		return f.revoke(whole, "the sheets of two people were mixed up; the quiz is taken again")
	})
	f.at(f.day(7, 0, 9, 0), "the leaving of Stellan Whyke", func(at time.Time) error {
		p := f.byLogin["stellan"]
		p.Person.Left = at
		return f.s.SavePerson(f.ctx, f.coordinator, &p.Person)
	})

	// Half of what is asked here the supplement a week later answers otherwise:
	// whoever was wrong by the old book and right by the new one gains by it.
	values := &exam{title: "Limits, services and values", revision: 1, questions: 20, cut: 0.6, seed: 15, limit: time.Hour, later: 2}
	f.exam(values, 7, 0)
	f.at(f.day(6, 0, 7, 45), "revision 2026-1", func(time.Time) error { return f.next(2) })
	f.at(f.day(6, 0, 10, 0), "the regrade after the supplement", func(time.Time) error {
		_, err := f.marker.ApplyRevision(f.ctx, f.coordinator, values.assignment.ID, f.revisions[2].Info.ID, grading.RegradeOptions{Remedy: grading.Either})
		return err
	})
	f.at(f.day(6, 0, 10, 30), "the standing of certificates", func(time.Time) error { return f.refresh() })
	f.at(f.day(5, 3, 9, 0), "top-up quizzes", func(at time.Time) error { return f.renew(touched, at) })

	latest := &exam{title: "What revision 2026-1 brought", revision: 2, questions: 20, cut: 0.6, seed: 16, limit: time.Hour}
	f.exam(latest, 3, 0)
	f.at(f.day(3, 4, 17, 0), "certificates", func(time.Time) error { return f.certify(latest, 5) })
	f.planDisputes(latest)
	f.planPresent()
}

// exam plans a quiz that is open for a week.
func (f *filler) exam(x *exam, weeks, weekday int, absent ...string) {
	f.at(f.day(weeks, weekday, 7, 0), "setting "+x.title, func(time.Time) error {
		if x.later > 0 {
			var err error
			if x.only, err = f.touched(x.later); err != nil {
				return err
			}
		}
		return f.set(x, f.day(weeks, weekday, 7, 30), f.day(weeks, weekday+5, 20, 0))
	})
	f.sit(x, weeks, weekday, absent...)
}

// next uploads the next revision of the catalog and puts it in force.
func (f *filler) next(revision int) error {
	for len(f.revisions) <= revision {
		if err := f.addRevision(Revisions()[len(f.revisions)]); err != nil {
			return err
		}
	}
	return f.putInForce(revision)
}

// planDisputes: one is accepted, one rejected, one open.
func (f *filler) planDisputes(x *exam) {
	open := func(login, reason string, keep *quiz.Dispute, score *grading.Score, but ...*grading.Score) func(time.Time) error {
		return func(time.Time) error {
			var not []string
			for _, s := range but {
				not = append(not, s.Question)
			}
			p := f.byLogin[login]
			s, err := f.wrong(x, p, not...)
			if err != nil {
				return err
			}
			*score = s
			*keep, err = f.s.OpenDispute(f.ctx, x.attempts[p.number].ID, s.Question, reason)
			return err
		}
	}
	var first, second, third quiz.Dispute
	var a, b, c grading.Score
	f.at(f.day(2, 0, 8, 5), "a dispute", open("tobias", "The shelf copy in our bay still shows the page that I gave. Nobody told us of a later one.", &first, &a))
	f.at(f.day(2, 0, 9, 15), "a dispute", open("farida", "I read the date on the plate as the month of delivery.", &second, &b, &a))
	f.at(f.day(2, 1, 11, 0), "a dispute decided", func(time.Time) error {
		given, err := f.given(x, f.byLogin["tobias"], a.Question)
		if err != nil {
			return err
		}
		const why = "The copy was handed out after the change and had not been exchanged: both answers count this time."
		_, _, err = f.marker.DecideDispute(f.ctx, f.coordinator, first.ID, grading.Ruling{Question: a.Question, Key: given, Also: true, Why: why}, true, why)
		return err
	})
	f.at(f.day(2, 1, 11, 20), "a dispute decided", func(time.Time) error {
		_, _, err := f.marker.DecideDispute(f.ctx, f.coordinator, second.ID, grading.Ruling{}, false,
			"The plate shows the month of building; the month of delivery stands on the invoice alone.")
		return err
	})
	f.at(f.day(1, 1, 15, 0), "a dispute", open("callum", "Two books on the shelf cover this component. Why is mine wrong?", &third, &c, &a, &b))
}

// given is what somebody answered to a question.
func (f *filler) given(x *exam, p *person, question string) (string, error) {
	answers, err := f.s.Answers(f.ctx, x.attempts[p.number].ID)
	if err != nil {
		return "", err
	}
	return quiz.Latest(answers)[question].Value, nil
}

// planPresent plans what is under way: a quiz that is open, with an attempt
// unfinished; an exam that is due; courses to get ready for.
func (f *filler) planPresent() {
	monthly := &exam{title: "Monthly check", revision: 2, questions: 20, cut: 0.7, seed: 17, limit: time.Hour,
		release: quiz.Release{When: quiz.ReleaseAtClose, Score: true, Answers: true, Key: true, Trace: true}}
	day := f.workday()
	opened := day.Add(7*time.Hour + 30*time.Minute)
	f.at(opened.Add(-20*time.Minute), "setting "+monthly.title, func(time.Time) error {
		return f.set(monthly, opened, f.present.Add(70*time.Hour))
	})
	for i, login := range []string{"ines", "harbinder", "yuki", "oksana", "noor", "adaeze", "leontyne"} {
		p := f.byLogin[login]
		f.at(opened.Add(32*time.Minute+time.Duration(i)*65*time.Minute), login+" at "+monthly.title, func(at time.Time) error {
			return f.screen(monthly, p, at, len(monthly.form.Variants[0].Questions))
		})
	}
	f.at(f.present.Add(-14*time.Minute), "an attempt that is under way", func(at time.Time) error {
		return f.screen(monthly, f.byLogin[unfinishedLogin], at, 7)
	})

	due := &exam{title: "Entry exam for the hydraulics course", revision: 2, questions: 25, cut: 0.8, seed: 18, limit: 75 * time.Minute,
		release: quiz.Release{When: quiz.ReleaseByHand, Score: true}}
	f.at(day.Add(16*time.Hour+10*time.Minute), "setting "+due.title, func(at time.Time) error {
		return f.set(due, at.Add(10*time.Minute), f.present.Add(9*24*time.Hour))
	})
	f.at(day.Add(16*time.Hour+40*time.Minute), "courses", func(time.Time) error { return f.courses() })
	f.at(f.present.Add(-time.Minute), "the logins", func(time.Time) error { return f.logins() })
}

// unfinishedLogin is the technician to look at the demonstration with.
const unfinishedLogin = "callum"

// courses are what people have to be ready for.
func (f *filler) courses() error {
	levels := func(level float64, skills ...string) (list []quiz.SkillLevel) {
		for _, s := range skills {
			list = append(list, quiz.SkillLevel{Skill: s, Level: level})
		}
		return list
	}
	hydraulics := quiz.Requirement{Course: "Loader hydraulics, three days away", Date: f.date(36),
		Skills:  levels(0.6, "editions", "locations", "publications"),
		Targets: []quiz.Target{{Kind: quiz.ToRole, ID: string(quiz.Technician)}}}
	diagnosis := quiz.Requirement{Course: "Fault finding by trouble code, two days away", Date: f.date(68),
		Skills: levels(0.6, "trouble codes", "groups", "data card")}
	for _, login := range []string{"callum", "ines", "maeve", "tobias", "noor", "yuki", "leontyne", "emrys", "oksana", "farida"} {
		diagnosis.Targets = append(diagnosis.Targets, quiz.Target{Kind: quiz.ToPerson, ID: f.byLogin[login].ID})
	}
	for _, r := range []*quiz.Requirement{&hydraulics, &diagnosis} {
		if err := f.s.SaveRequirement(f.ctx, f.coordinator, r); err != nil {
			return err
		}
	}
	return nil
}

// workday is the start of the last day of work before that of the present.
func (f *filler) workday() time.Time {
	d := f.present.In(f.zone).AddDate(0, 0, -1)
	for d.Weekday() == time.Saturday || d.Weekday() == time.Sunday {
		d = d.AddDate(0, 0, -1)
	}
	return time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, f.zone).UTC()
}

// date is the Monday on or after a day so many days ahead.
func (f *filler) date(days int) time.Time {
	d := f.present.In(f.zone).AddDate(0, 0, days)
	for d.Weekday() != time.Monday {
		d = d.AddDate(0, 0, 1)
	}
	return time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, time.UTC)
}

// touched accepts the questions that a later revision answers otherwise, and as
// many that it does not.
func (f *filler) touched(later int) (func(*banks.Question) bool, error) {
	// The revision is not uploaded yet: what it will change is known to nobody
	// but the author of this history.
	data, err := zipped(f.o.Catalogs, Revisions()[later])
	if err != nil {
		return nil, err
	}
	up, err := library.ReadUpload("later.zip", data)
	if err != nil {
		return nil, err
	}
	if up.Catalog == nil {
		return nil, up.Report.Err()
	}
	change := grading.Revision(resolver.New(up.Catalog))
	surplus := 0
	return func(q *banks.Question) bool {
		if q.Form == banks.Chase {
			return false
		}
		if change(q).Outcome != grading.Unchanged {
			surplus++
			return true
		}
		if surplus > 0 {
			surplus--
			return true
		}
		return false
	}, nil
}

// logins lists one account per role, and the people.
func (f *filler) logins() error {
	for _, l := range []struct {
		role  quiz.Role
		login string
		shows string
	}{
		{quiz.Technician, unfinishedLogin, "a quiz under way, an exam due, practice, certificates, a dispute"},
		{quiz.Coordinator, "rosalind", "the catalog and its revisions, quizzes, results, disputes, certificates"},
		{quiz.Manager, "desmond", "who is ready for which course"},
		{quiz.Administrator, "mirela", "accounts, settings, the audit log"},
	} {
		p, ok := f.byLogin[l.login]
		if !ok {
			return fmt.Errorf("nobody logs in as %s", l.login)
		}
		f.out.Logins = append(f.out.Logins, Login{l.role, l.login, f.o.Password, p.Person, l.shows})
	}
	var err error
	if f.out.People, err = f.s.People(f.ctx); err != nil {
		return err
	}
	return f.read(f.byLogin[unfinishedLogin])
}

// read lets somebody read what is older than two weeks, but for the news that
// a certificate is outdated, which is still to be acted on.
func (f *filler) read(p *person) error {
	list, err := f.s.Notices(f.ctx, p.ID, 1000)
	if err != nil {
		return err
	}
	for _, n := range list {
		if n.Read.IsZero() && n.Kind != quiz.NoticeOutdated && f.present.Sub(n.At) > 14*24*time.Hour {
			if err := f.s.ReadNotice(f.ctx, p.ID, n.ID); err != nil {
				return err
			}
		}
	}
	return nil
}
