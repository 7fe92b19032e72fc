package api

import (
	"math"
	"slices"
	"time"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/progress"
	"rightpage/server/web"
)

// Person is somebody who uses the program.
type Person struct {
	ID     string      `json:"id"`
	Name   string      `json:"name"`
	Number string      `json:"number,omitempty" jsonschema_description:"The organisation's own staff number"`
	Site   string      `json:"site,omitempty" jsonschema_description:"ID of the site"`
	Roles  []quiz.Role `json:"roles" jsonschema:"enum=technician,enum=coordinator,enum=manager,enum=administrator"`
	Left   time.Time   `json:"left,omitzero" jsonschema_description:"When the person left; absent: still there"`
}

// Site is a place of work.
type Site struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Zone string `json:"zone" jsonschema_description:"IANA name of the time zone"`
}

// Share is how many of so many answers were right.
type Share struct {
	Answers int     `json:"answers" jsonschema:"minimum=0"`
	Right   int     `json:"right" jsonschema:"minimum=0"`
	Low     float64 `json:"low" jsonschema:"minimum=0,maximum=1" jsonschema_description:"Of the share, with 95 % confidence (Wilson)"`
	High    float64 `json:"high" jsonschema:"minimum=0,maximum=1"`
}

// SkillProgress is where a person stands in a skill.
type SkillProgress struct {
	Skill        string         `json:"skill"`
	Share        Share          `json:"share"`
	Level        progress.Level `json:"level" jsonschema:"enum=too few to tell,enum=not yet,enum=open,enum=probable,enum=mastered"`
	Known        *float64       `json:"known,omitempty" jsonschema:"minimum=0,maximum=1" jsonschema_description:"Chance that the skill is known today; absent with too few answers to tell"`
	Says         string         `json:"says" jsonschema_description:"The same in words, with how sure it is, in the language of the owner of the token"`
	UsualSeconds float64        `json:"usual_seconds,omitempty" jsonschema_description:"Time that people here stay below on half of such questions"`
	Slips        []SlipTimes    `json:"slips"`
}

// StepProgress is where a person stands at a step of the lookup.
type StepProgress struct {
	Step   string `json:"step"`
	Share  Share  `json:"share"`
	Recent Share  `json:"recent" jsonschema_description:"Of the last 12 answers"`
}

// SlipTimes is how often a slip was made.
type SlipTimes struct {
	Slip  string `json:"slip"`
	Times int    `json:"times" jsonschema:"minimum=1"`
}

// MonthProgress is what was answered in a month.
type MonthProgress struct {
	Month string `json:"month" jsonschema:"pattern=^[0-9]{4}-[0-9]{2}$"`
	Share Share  `json:"share"`
}

// Progress is what a person has answered, and what it says.
type Progress struct {
	Person string          `json:"person"`
	Share  Share           `json:"share"`
	First  time.Time       `json:"first,omitzero" jsonschema_description:"When the first answer was given"`
	Last   time.Time       `json:"last,omitzero"`
	Skills []SkillProgress `json:"skills"`
	Steps  []StepProgress  `json:"steps" jsonschema_description:"In the order of a lookup"`
	Slips  []SlipTimes     `json:"slips" jsonschema_description:"The most frequent first"`
	Months []MonthProgress `json:"months"`
	Weeks  int             `json:"weeks" jsonschema:"minimum=0" jsonschema_description:"Weeks practised without a gap, up to now"`
}

func (p *Pages) peopleEndpoints() []endpoint {
	person := func(c *web.Context) (string, error) { return c.Param("person"), nil }
	return []endpoint{
		{path: "/people", id: "listPeople", tag: "People", summary: "People", access: ofPeople, answer: List[Person]{},
			about: "Those who left are told when left=true.",
			query: append([]parameter{
				{"site", "Only people of the site with this ID", map[string]any{"type": "string"}},
				{"role", "Only people with this role", map[string]any{"type": "string", "enum": quiz.Roles()}},
				{"number", "Only the person with this staff number", map[string]any{"type": "string"}},
				{"left", "Those who left, too", map[string]any{"type": "boolean", "default": false}},
			}, pageParameters...),
			handle: func(c *web.Context) (any, error) {
				all, err := p.app.Store.People(c.Ctx())
				if err != nil {
					return nil, err
				}
				site, role, number, left := c.QueryParam("site"), quiz.Role(c.QueryParam("role")), c.QueryParam("number"), c.QueryParam("left")
				if role != "" && !slices.Contains(quiz.Roles(), role) || left != "" && left != "true" && left != "false" {
					return nil, &queryError{"the role or left makes no sense", "see " + base + "/openapi.json"}
				}
				all = slices.DeleteFunc(all, func(x quiz.Person) bool {
					return !c.Covers(&x) || site != "" && x.Site != site || role != "" && !x.Has(role) || number != "" && x.Number != number ||
						left != "true" && !x.Active(c.Now())
				})
				return page(c, each(all, personOf), func(x Person) string { return x.ID })
			}},
		{path: "/people/:person", id: "getPerson", tag: "People", summary: "A person", access: ofPeople, owner: person, answer: Person{},
			handle: func(c *web.Context) (any, error) { return personOf(*c.Subject), nil }},
		{path: "/people/:person/progress", id: "getProgress", tag: "Progress", summary: "Progress of a person by skill and by step of the lookup",
			about:  "Of exercises, and of quizzes: of one's own, those that are released. Every share has its interval; where there are too few answers to tell, the level says so.",
			access: ofWork, owner: person, answer: Progress{},
			handle: func(c *web.Context) (any, error) {
				of := p.progress.Of
				if c.Scope != web.All && c.Subject.ID == c.Visitor.ID { // as with attempts: what is released
					of = p.progress.Released
				}
				r, err := of(c.Ctx(), c.Subject.ID)
				if err != nil {
					return nil, err
				}
				c.Response().Header().Set("Content-Language", c.Words.Locale())
				return progressOf(c, r), nil
			}},
		{path: "/sites", id: "listSites", tag: "People", summary: "Sites", access: forEverybody, answer: List[Site]{}, query: pageParameters,
			handle: func(c *web.Context) (any, error) {
				all, err := p.app.Store.Sites(c.Ctx())
				if err != nil {
					return nil, err
				}
				return page(c, each(all, func(s quiz.Site) Site {
					if s.Zone == "" {
						s.Zone = "UTC"
					}
					return Site{s.ID, s.Name, s.Zone}
				}), func(s Site) string { return s.ID })
			}},
	}
}

func personOf(p quiz.Person) Person {
	return Person{ID: p.ID, Name: p.Name, Number: p.Number, Site: p.Site, Roles: p.Roles, Left: instant(p.Left)}
}

func shareOf(s progress.Share) Share { return Share{s.Answers, s.Right, s.Low, s.High} }

func slipsOf(list []grading.SlipCount) []SlipTimes {
	return each(list, func(s grading.SlipCount) SlipTimes { return SlipTimes{s.Slip.String(), s.Times} })
}

func progressOf(c *web.Context, r *progress.Record) Progress {
	return Progress{Person: r.Person, Share: shareOf(r.Share), First: instant(r.First), Last: instant(r.Last),
		Skills: each(r.Skills, func(s progress.Skill) SkillProgress {
			out := SkillProgress{Skill: s.Name, Share: shareOf(s.Share), Level: s.Level, Says: c.Words.Render(s.Says),
				UsualSeconds: math.Round(s.Usual.Seconds()*10) / 10, Slips: slipsOf(s.Slips)}
			if s.Level != progress.TooFew {
				out.Known = finite(s.Known)
			}
			return out
		}),
		Steps: each(r.Steps, func(s progress.StepShare) StepProgress {
			return StepProgress{s.Step.String(), shareOf(s.Share), shareOf(s.Recent)}
		}),
		Slips: slipsOf(r.Slips),
		Months: each(r.Months, func(m progress.Month) MonthProgress {
			return MonthProgress{m.Starts.Format("2006-01"), shareOf(m.Share)}
		}),
		Weeks: r.Streak.Weeks}
}

// finite gives a number that JSON can hold; nil if it is none.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
