package technician

import (
	"bytes"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/paper"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// slug makes the end of a message ID of a name, as the function of that name
// does in templates.
func slug(name string) string { return strings.ReplaceAll(strings.ToLower(name), " ", "-") }

// reportMonths is how far back a progress report reaches.
const reportMonths = 6

// report is the visitor's progress to print.
func (p *Pages) report(c *web.Context) error {
	ctx := c.Ctx()
	r, err := p.deps.Progress.Released(ctx, c.Visitor.ID)
	if err != nil {
		return err
	}
	settings, err := p.app.Store.Settings(ctx)
	if err != nil {
		return err
	}
	size, err := paper.ParsePageSize(settings.Paper)
	if err != nil {
		size = paper.A4
	}
	now := c.Now().In(c.Zone)
	out := paper.ProgressReport{Size: size, Organisation: settings.Organisation, Person: c.Visitor.Name,
		From: now.AddDate(0, -reportMonths, 1), To: now, Summary: c.Words.Render(r.Says()), Confidence: 0.95, MasteredAt: settings.Aim}
	if !r.First.IsZero() && r.First.After(out.From) {
		out.From = r.First.In(c.Zone)
	}
	if out.Organisation == "" {
		out.Organisation = c.T("technician.report.organisation")
	}
	if out.Site, err = p.siteName(c); err != nil {
		return err
	}
	all, err := p.deps.Library.InForce(ctx)
	if err != nil {
		return err
	}
	var titles []string
	for _, e := range all {
		titles = append(titles, e.Info.Title+" "+e.Info.Revision)
	}
	out.Catalog = strings.Join(titles, ", ")
	for _, s := range r.Skills {
		if s.Answers > 0 {
			out.Skills = append(out.Skills, skillLine(c, s, out.From))
		}
	}
	for _, w := range r.Weeks {
		if !w.Starts.AddDate(0, 0, 7).Before(out.From) {
			out.Weeks = append(out.Weeks, paper.WeekOfPractice{Starts: w.Starts, Right: w.Right, Wrong: w.Answers - w.Right})
		}
	}
	if out.Attempts, err = p.attemptLines(c, out.From); err != nil {
		return err
	}
	var d duePage
	if _, err := p.suggest(c, &d); err != nil {
		return err
	}
	if d.Skill != nil {
		out.Next = append(out.Next, d.Skill.Says) // it names the skill
	}
	if d.Step != nil {
		out.Next = append(out.Next, c.Words.Or("step."+slug(d.Step.Name), d.Step.Name)+": "+d.Step.Says)
	}
	var b bytes.Buffer
	if err := paper.WriteProgressReport(&b, out); err != nil {
		return err
	}
	return c.File("progress-"+now.Format(time.DateOnly)+".pdf", "application/pdf", b.Bytes())
}

func (p *Pages) siteName(c *web.Context) (string, error) {
	sites, err := p.app.Store.Sites(c.Ctx())
	if err != nil {
		return "", err
	}
	for _, s := range sites {
		if s.ID == c.Visitor.Site {
			return s.Name, nil
		}
	}
	return "", nil
}

// skillLine gives the share of right answers to a skill since a time, with its
// interval, and the share before it where there are enough answers to tell.
func skillLine(c *web.Context, s progress.Skill, from time.Time) paper.SkillProgress {
	right, n, rightBefore, before := 0, 0, 0, 0
	for _, m := range s.Months {
		if m.Starts.AddDate(0, 1, 0).After(from) {
			right, n = right+m.Right, n+m.Answers
		} else {
			rightBefore, before = rightBefore+m.Right, before+m.Answers
		}
	}
	if n == 0 { // nothing since: what was known before stands
		right, n, before = rightBefore, before, 0
	}
	now, was := progress.ShareOf(right, n), progress.ShareOf(rightBefore, before)
	x := paper.SkillProgress{Name: c.Words.Or("skill."+slug(s.Name), s.Name), Before: -1, Now: now.Value(), Low: now.Low, High: now.High, Answers: n}
	if was.Enough() {
		x.Before = was.Value()
	}
	if len(s.Slips) > 0 {
		name := s.Slips[0].Slip.String()
		x.Slip = c.Words.Or("slip."+slug(name), name)
	}
	return x
}

// attemptLines lists the quizzes taken since a time, with the scores that may be
// shown.
func (p *Pages) attemptLines(c *web.Context, from time.Time) ([]paper.AttemptLine, error) {
	attempts, err := p.app.Store.AttemptsOf(c.Ctx(), c.Visitor.ID)
	if err != nil {
		return nil, err
	}
	var list []paper.AttemptLine
	for _, a := range attempts {
		if !a.State.Ended() || a.Ended.Before(from) {
			continue
		}
		as, err := p.app.Store.Assignment(c.Ctx(), a.Assignment)
		if err != nil {
			return nil, err
		}
		line := paper.AttemptLine{When: a.Ended.In(c.Zone), Quiz: as.Title, Score: "–", Outcome: c.T("technician.report.hidden")}
		if a.State == quiz.Graded && as.Shows(a, attempts, c.Now()).Score {
			line.Score = c.T("technician.points", "Points", c.Words.Number(a.Result.Points, 1), "Of", c.Words.Number(a.Result.Of, 1))
			line.Outcome = c.T("technician.failed")
			if a.Result.Passed {
				line.Outcome = c.T("technician.passed")
			}
		}
		list = append(list, line)
	}
	return list, nil
}
