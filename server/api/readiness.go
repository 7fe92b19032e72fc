package api

import (
	"slices"
	"time"

	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// Requirement is what somebody must be able to do by a date, as before an
// off-site course.
type Requirement struct {
	ID      string          `json:"id"`
	Course  string          `json:"course"`
	Date    Day             `json:"date"`
	Skills  []RequiredSkill `json:"skills"`
	Targets []Target        `json:"targets,omitempty" jsonschema_description:"Whom it concerns; for those who see all records"`
}

// RequiredSkill is a skill and how far it must be mastered.
type RequiredSkill struct {
	Skill string  `json:"skill"`
	Level float64 `json:"level" jsonschema:"minimum=0,maximum=1"`
}

// Readiness is the forecast whether a person reaches a requirement on its date.
type Readiness struct {
	Person      string           `json:"person"`
	Name        string           `json:"name"`
	Number      string           `json:"number,omitempty"`
	Site        string           `json:"site,omitempty"`
	State       progress.State   `json:"state" jsonschema:"enum=ready,enum=at risk,enum=not ready,enum=too few to tell"`
	Probability *Chance          `json:"probability,omitempty" jsonschema_description:"To reach the requirement; absent with too few answers to tell"`
	Skills      []SkillReadiness `json:"skills"`
	Reason      []string         `json:"reason" jsonschema_description:"Why, in the language of the owner of the token"`
	Plan        []PlannedSkill   `json:"plan" jsonschema_description:"The shortest practice that is enough; empty for who is ready"`
	PlanSays    []string         `json:"plan_says"`
}

// Chance is a probability with the interval in which it lies with 90 %.
type Chance struct {
	Value float64 `json:"value" jsonschema:"minimum=0,maximum=1"`
	Low   float64 `json:"low" jsonschema:"minimum=0,maximum=1"`
	High  float64 `json:"high" jsonschema:"minimum=0,maximum=1"`
}

// SkillReadiness is one required skill, for one person.
type SkillReadiness struct {
	Skill   string   `json:"skill"`
	Answers int      `json:"answers" jsonschema:"minimum=0"`
	Known   *float64 `json:"known,omitempty" jsonschema:"minimum=0,maximum=1" jsonschema_description:"Chance that it is known today; absent with too few answers to tell"`
	Pass    *float64 `json:"pass,omitempty" jsonschema:"minimum=0,maximum=1" jsonschema_description:"Chance to reach the level on the date"`
}

// PlannedSkill is how many questions of a skill to practise.
type PlannedSkill struct {
	Skill     string `json:"skill"`
	Questions int    `json:"questions" jsonschema:"minimum=1"`
}

func (p *Pages) readinessEndpoints() []endpoint {
	return []endpoint{
		{path: "/requirements", id: "listRequirements", tag: "Readiness", summary: "Requirements of courses", access: ofWork, answer: List[Requirement]{},
			about: "Those of courses that are still to come, unless from says otherwise.",
			query: append([]parameter{{"from", "Only courses on this day or later", map[string]any{"type": "string", "format": "date"}}}, pageParameters...),
			handle: func(c *web.Context) (any, error) {
				from, err := dayParameter(c, "from")
				if err != nil {
					return nil, err
				}
				if from.IsZero() {
					y, m, d := c.Now().UTC().Date()
					from = time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
				}
				all, people, err := p.requirements(c, from)
				if err != nil {
					return nil, err
				}
				all = slices.DeleteFunc(all, func(r quiz.Requirement) bool { return !addressed(c, r.Targets, people) })
				return page(c, each(all, func(r quiz.Requirement) Requirement {
					return Requirement{r.ID, r.Course, Day(r.Date), each(r.Skills, func(s quiz.SkillLevel) RequiredSkill { return RequiredSkill{s.Skill, s.Level} }), targetsOf(c, r.Targets)}
				}), func(r Requirement) string { return time.Time(r.Date).Format(time.DateOnly) + r.ID })
			}},
		{path: "/requirements/:requirement/readiness", id: "getReadiness", tag: "Readiness", summary: "Who will be ready, and what it takes",
			access: ofWork, answer: List[Readiness]{}, query: pageParameters,
			handle: func(c *web.Context) (any, error) {
				all, people, err := p.requirements(c, time.Time{})
				if err != nil {
					return nil, err
				}
				at := slices.IndexFunc(all, func(r quiz.Requirement) bool { return r.ID == c.Param("requirement") })
				if at < 0 || !addressed(c, all[at].Targets, people) {
					return nil, quiz.Errorf(quiz.NotFound, "there is no such requirement, or none that you may see")
				}
				var whom []quiz.Person
				for _, x := range people {
					if x.Active(c.Now()) && all[at].For(*x) && c.Covers(x) {
						whom = append(whom, *x)
					}
				}
				// Forecasts cost something: of the people of this page alone.
				part, err := page(c, whom, func(x quiz.Person) string { return x.ID })
				if err != nil {
					return nil, err
				}
				forecast := p.progress.Readiness
				if c.Scope == web.Own { // as with progress: by what is released
					forecast = p.progress.ReleasedReadiness
				}
				list, err := forecast(c.Ctx(), all[at], part.Data, c.Now())
				if err != nil {
					return nil, err
				}
				c.Response().Header().Set("Content-Language", c.Words.Locale())
				return List[Readiness]{each(list, func(r progress.PersonReadiness) Readiness { return readinessOf(c, r) }), part.Next}, nil
			}},
	}
}

func (p *Pages) requirements(c *web.Context, from time.Time) ([]quiz.Requirement, map[string]*quiz.Person, error) {
	all, err := p.app.Store.Requirements(c.Ctx(), from)
	if err != nil {
		return nil, nil, err
	}
	people, err := p.peopleByID(c)
	return all, people, err
}

func readinessOf(c *web.Context, r progress.PersonReadiness) Readiness {
	told := r.State != progress.CannotBeTold
	says := func(list []psychometrics.Statement) []string { return each(list, c.Words.Render) }
	out := Readiness{Person: r.Person.ID, Name: r.Person.Name, Number: r.Person.Number, Site: r.Person.Site, State: r.State,
		Reason: says(r.Reason), PlanSays: says(r.PlanSays),
		Plan: each(r.Plan, func(x progress.PlannedPractice) PlannedSkill { return PlannedSkill{x.Skill, x.Questions} }),
		Skills: each(r.Skills, func(s progress.RequiredSkill) SkillReadiness {
			x := SkillReadiness{Skill: s.Skill, Answers: s.Answers}
			if s.Answers >= psychometrics.MinSkillAnswers {
				x.Known, x.Pass = finite(s.Known), finite(s.Pass)
			}
			return x
		})}
	if told {
		out.Probability = &Chance{r.Forecast.Probability, r.Forecast.Low, r.Forecast.High}
	}
	return out
}
