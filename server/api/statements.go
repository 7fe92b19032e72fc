package api

import (
	"encoding/base64"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"rightpage/quiz"
	"rightpage/server/web"
)

// xapiVersion is the version of the standard that is kept to, and that requests
// name in its header.
const (
	xapiVersion = "2.0.0"
	xapiHeader  = "X-Experience-API-Version"
	// xapiThrough says up to when everything that became known is told.
	xapiThrough = "X-Experience-API-Consistent-Through"
)

// settling is how long what became known may take to be seen: a transaction is
// written meanwhile.
const settling = 30 * time.Second

// How many statements a page has.
const (
	usualStatements = 500
	mostStatements  = 1000
)

// StatementList is what a query for statements is answered with: its pages, or,
// if it asks for one by its ID, that one.
type StatementList struct {
	Statements []Statement `json:"statements"`
	More       string      `json:"more" jsonschema_description:"Address of the page that follows; empty on the last"`
}

func (p *Pages) statementsEndpoint() endpoint {
	text, when, truth := map[string]any{"type": "string"}, map[string]any{"type": "string", "format": "date-time"}, map[string]any{"type": "boolean", "default": false}
	return endpoint{path: "/statements", id: "listStatements", tag: "Statements", summary: "Statements of xAPI 2.0 (IEEE 9274.1.1)", access: ofWork,
		about: "The reading part of the standard's statement resource: answered, completed, passed, failed, and voided for what a regrade has overtaken. " +
			"The actor is an account whose home page is the address of the server. Technicians are told of their own quizzes what is released. " +
			"With statementId or voidedStatementId the answer is that statement alone. Attachments there are none.",
		headers: []parameter{{xapiHeader, "Version of the standard: 2.0.0", map[string]any{"type": "string", "pattern": `^2\.0(\.[0-9]+)?$`}}},
		query: []parameter{
			{"statementId", "ID of the statement to give; nothing else may be asked with it but account, format and attachments", text},
			{"voidedStatementId", "The same, of one that was voided", text},
			{"agent", "Only those of the agent, as JSON with an account", text},
			{"verb", "Only those with the verb of this IRI", text},
			{"activity", "Only those about the activity of this IRI", text},
			{"related_activities", "Those that are part of the activity, too", truth},
			{"related_agents", "Has no effect: statements have no other agents", truth},
			{"registration", "Only those of the attempt that this stands for", text},
			{"since", "Only those that became known after this time", when},
			{"until", "Only those that became known at this time or before", when},
			{"limit", "Most statements of a page; 0: as many as the server gives", map[string]any{"type": "integer", "minimum": 0}},
			{"ascending", "Those that became known first come first", truth},
			{"format", "How much is told of activities and agents", map[string]any{"type": "string", "enum": []string{"exact", "canonical", "ids"}, "default": "exact"}},
			{"attachments", "Only false: there are none", truth},
			{"account", "What the name of an account is: the person's ID, or the staff number where there is one", map[string]any{"type": "string", "enum": []string{"id", "number"}, "default": "id"}},
			{"cursor", "Where a page begins, as more has it", text},
		},
		answer: StatementList{}, or: Statement{}, handle: p.statements}
}

// statementQuery is a query for statements.
type statementQuery struct {
	id, voided           string
	agent                *Agent
	verb, activity       string
	related, ascending   bool
	registration, format string
	since, until         time.Time
	limit                int
	after                *fact // the last of the page before: its stored and name
}

func (p *Pages) statements(c *web.Context) (any, error) {
	h := c.Response().Header()
	h.Set(xapiHeader, xapiVersion)
	if v := c.Request().Header.Get(xapiHeader); v != "2.0" && !strings.HasPrefix(v, "2.0.") {
		return nil, &queryError{"the request does not say which version of xAPI it means, or another than 2.0", "send the header " + xapiHeader + ": " + xapiVersion}
	}
	q, err := readQuery(c)
	if err != nil {
		return nil, err
	}
	t, people, err := p.teller(c)
	if err != nil {
		return nil, err
	}
	facts, err := p.ledger.read(c.Ctx())
	if err != nil {
		return nil, err
	}
	visible, err := p.visible(c, people, facts)
	if err != nil {
		return nil, err
	}
	h.Set(xapiThrough, c.Now().Add(-settling).UTC().Format(time.RFC3339Nano))
	if q.id != "" || q.voided != "" {
		for _, f := range facts {
			if f.voided == (q.voided != "") && t.uuid(f.name).String() == q.id+q.voided && visible(f) {
				h.Set("Last-Modified", f.stored.UTC().Format(http.TimeFormat))
				return shape(t.tell(f), q.format), nil
			}
		}
		return nil, quiz.Errorf(quiz.NotFound, "there is no such statement, or none that you may see")
	}
	return q.page(c, t, facts, visible), nil
}

// page gives the page of statements that is asked for.
func (q *statementQuery) page(c *web.Context, t *teller, facts []*fact, visible func(*fact) bool) any {
	out := struct {
		Statements []any  `json:"statements"`
		More       string `json:"more"`
	}{Statements: []any{}}
	order := slices.Values(facts)
	if !q.ascending {
		order = func(yield func(*fact) bool) {
			for _, f := range slices.Backward(facts) {
				if !yield(f) {
					return
				}
			}
		}
	}
	var last *fact
	for f := range order {
		if !q.takes(t, f) || !visible(f) {
			continue
		}
		if len(out.Statements) == q.limit {
			cursor := base64.RawURLEncoding.EncodeToString([]byte(strconv.FormatInt(last.stored.UnixMicro(), 10) + " " + last.name))
			out.More = nextAddress(c, "cursor", cursor)
			break
		}
		last = f
		out.Statements = append(out.Statements, shape(t.tell(f), q.format))
	}
	return out
}

// takes tells whether a fact is among those asked for.
func (q *statementQuery) takes(t *teller, f *fact) bool {
	if f.voided || !q.since.IsZero() && !f.stored.After(q.since) || !q.until.IsZero() && f.stored.After(q.until) {
		return false
	}
	if q.after != nil {
		if by := byStored(f, q.after); q.ascending && by <= 0 || !q.ascending && by >= 0 {
			return false
		}
	}
	if q.verb != "" && q.verb != verbBase+f.verb {
		return false
	}
	if q.agent != nil {
		actor := t.program()
		if f.verb != voidedVerb {
			actor = t.agent(t.nameOf(f.person))
		}
		if actor.Account != q.agent.Account {
			return false
		}
	}
	if q.registration != "" && (f.attempt == "" || f.verb == voidedVerb || t.uuid("attempt|"+f.attempt).String() != q.registration) {
		return false
	}
	if q.activity == "" {
		return true
	}
	if o := t.object(f); o.ObjectType == "Activity" && o.ID == q.activity {
		return true
	}
	parent, ok := t.parent(f)
	return q.related && ok && parent.ID == q.activity
}

// visible gives what tells whether the visitor may be told a fact.
func (p *Pages) visible(c *web.Context, people map[string]*quiz.Person, facts []*fact) (func(*fact) bool, error) {
	if c.Scope == web.All {
		return func(*fact) bool { return true }, nil
	}
	// Of their own quizzes people are told what is released.
	own := map[string]quiz.Shown{}
	made, of, err := p.madeBy(c, c.Visitor.ID)
	if err != nil {
		return nil, err
	}
	for _, a := range made {
		own[a.ID] = of[a.Assignment].Shows(a, made, c.Now())
	}
	return func(f *fact) bool {
		owner := people[f.person]
		if owner == nil || !c.Covers(owner) {
			return false
		}
		if f.person != c.Visitor.ID || f.attempt == "" {
			return true
		}
		shown := own[f.attempt]
		if f.question != "" || f.verb == voidedVerb && strings.Contains(f.name, "|answered ") {
			return shown.Answers
		}
		return shown.Score
	}, nil
}

// teller gives what makes statements for the request.
func (p *Pages) teller(c *web.Context) (*teller, map[string]*quiz.Person, error) {
	s, err := p.app.Store.Settings(c.Ctx())
	if err != nil {
		return nil, nil, err
	}
	if s.BaseURL == "" {
		return nil, nil, &quiz.Error{Code: quiz.Closed, Text: "statements name people by accounts at the address of this server, and none is set",
			Mend: "have the administrator set the address in the settings"}
	}
	t := &teller{home: strings.TrimRight(s.BaseURL, "/"), form: "id", titles: map[string]string{}, lang: s.Locale}
	people, err := p.peopleByID(c)
	if err != nil {
		return nil, nil, err
	}
	if c.QueryParam("account") == "number" {
		t.form, t.account = "number", map[string]string{}
		for id, x := range people {
			t.account[id] = x.Number
		}
	}
	all, err := p.app.Store.Assignments(c.Ctx())
	for _, a := range all {
		t.titles[a.ID] = a.Title
	}
	return t, people, err
}

// shape gives a statement in the format asked for. In ids, only what identifies
// is told of agents, activities and verbs. Exact and canonical are the same, as
// every text is in one language only.
func shape(s Statement, format string) any {
	if format != "ids" {
		return s
	}
	bare := func(o StatementObject) StatementObject { o.Definition = nil; return o }
	s.Object = bare(s.Object)
	if s.Context != nil && s.Context.Activities != nil {
		ctx := *s.Context
		ctx.Activities = &ContextActivities{each(ctx.Activities.Parent, bare)}
		s.Context = &ctx
	}
	return s
}

func readQuery(c *web.Context) (*statementQuery, error) {
	q := &statementQuery{id: strings.ToLower(c.QueryParam("statementId")), voided: strings.ToLower(c.QueryParam("voidedStatementId")), verb: c.QueryParam("verb"),
		activity: c.QueryParam("activity"), registration: strings.ToLower(c.QueryParam("registration")), format: c.QueryParam("format"), limit: usualStatements}
	for name, list := range c.QueryParams() {
		if len(list) != 1 {
			return nil, &queryError{"the parameter " + name + " stands twice", "give it once"}
		}
		if (q.id != "" || q.voided != "") && !slices.Contains([]string{"statementId", "voidedStatementId", "format", "attachments", "account"}, name) ||
			q.id != "" && name == "voidedStatementId" {
			return nil, &queryError{"with the ID of a statement nothing else can be asked, such as " + name, "ask for one or the other"}
		}
	}
	for name, id := range map[string]string{"statementId": q.id, "voidedStatementId": q.voided, "registration": q.registration} {
		if _, err := uuid.Parse(id); (err != nil || len(id) != 36) && c.QueryParams().Has(name) {
			return nil, &queryError{name + " is no UUID", "write it as in 123e4567-e89b-12d3-a456-426614174000"}
		}
	}
	truth := func(name string) (bool, error) {
		switch c.QueryParam(name) {
		case "", "false":
			return false, nil
		case "true":
			return true, nil
		}
		return false, &queryError{name + " is neither true nor false", "use one of them"}
	}
	var err error
	if q.ascending, err = truth("ascending"); err != nil {
		return nil, err
	}
	if q.related, err = truth("related_activities"); err != nil {
		return nil, err
	}
	if _, err = truth("related_agents"); err != nil {
		return nil, err
	}
	if attached, err := truth("attachments"); err != nil || attached {
		return nil, &queryError{"there are no attachments", "ask without them"}
	}
	if !slices.Contains([]string{"", "exact", "canonical", "ids"}, q.format) {
		return nil, &queryError{"there is no format " + q.format, "use exact, canonical or ids"}
	}
	if a := c.QueryParam("account"); a != "" && a != "id" && a != "number" {
		return nil, &queryError{"accounts are not named by " + a, "use id or number"}
	}
	if q.since, err = dayParameter(c, "since"); err != nil {
		return nil, err
	}
	if q.until, err = dayParameter(c, "until"); err != nil {
		return nil, err
	}
	if s := c.QueryParam("limit"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 0 {
			return nil, &queryError{"the limit " + s + " is no number of statements", "use 0 or more"}
		}
		if n > 0 {
			q.limit = min(n, mostStatements)
		}
	}
	if s := c.QueryParam("agent"); s != "" {
		q.agent = &Agent{}
		if err := json.Unmarshal([]byte(s), q.agent); err != nil || q.agent.Account.HomePage == "" || q.agent.Account.Name == "" {
			return nil, &queryError{"the agent has no account", `write it as in {"account":{"homePage":"https://training.example.org","name":"…"}}`}
		}
		q.agent.Account.HomePage = strings.TrimRight(q.agent.Account.HomePage, "/")
	}
	if s := c.QueryParam("cursor"); s != "" {
		text, err := base64.RawURLEncoding.DecodeString(s)
		stored, name, ok := strings.Cut(string(text), " ")
		micros, numErr := strconv.ParseInt(stored, 10, 64)
		if err != nil || !ok || numErr != nil {
			return nil, &queryError{"there is no such cursor", "follow more as it is given"}
		}
		q.after = &fact{stored: time.UnixMicro(micros), name: name}
	}
	return q, nil
}
