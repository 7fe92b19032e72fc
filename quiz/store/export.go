package store

import (
	"context"
	"encoding/json"
	"io"
	"time"

	"gorm.io/gorm"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
)

// ExportFormat names the format of the export of a person's data and its
// version.
const ExportFormat = "rightpage person 1"

// personExport is everything that is kept about a person. Names of fields are
// those of the records, in lower case.
type personExport struct {
	Format       string               `json:"format"`
	Made         time.Time            `json:"made"`
	Person       exportedPerson       `json:"person"`
	Account      *exportedAccount     `json:"account,omitempty"`
	Sessions     []time.Time          `json:"sessions_until"`
	Tokens       []exportedToken      `json:"tokens"`
	CodeUntil    *time.Time           `json:"code_until,omitempty"`
	Assignments  []exportedAssignment `json:"assignments"`
	Attempts     []exportedAttempt    `json:"attempts"`
	Disputes     []exportedDispute    `json:"disputes"`
	Practice     []exportedPractice   `json:"practice"`
	Certificates []exportedCertified  `json:"certificates"`
	Notices      []exportedNotice     `json:"notices"`
	Scans        []exportedScan       `json:"scans"`
	Audit        []exportedEntry      `json:"audit"` // entries by the person, and entries about the person
}

type (
	exportedPerson struct {
		ID      string      `json:"id"`
		Name    string      `json:"name"`
		Number  string      `json:"number,omitempty"`
		Mail    string      `json:"mail,omitempty"`
		Site    string      `json:"site,omitempty"` // its name
		Locale  string      `json:"locale"`
		Roles   []quiz.Role `json:"roles"`
		Apart   bool        `json:"apart"`
		Left    time.Time   `json:"left,omitzero"`
		Erased  time.Time   `json:"erased,omitzero"`
		Created time.Time   `json:"created"`
	}
	exportedAccount struct {
		Login   string    `json:"login"`
		Changed time.Time `json:"changed"`
		Must    bool      `json:"must_change"`
	}
	exportedToken struct {
		Name    string    `json:"name"`
		Created time.Time `json:"created"`
		Expires time.Time `json:"expires,omitzero"`
		Used    time.Time `json:"used,omitzero"`
		Revoked time.Time `json:"revoked,omitzero"`
	}
	exportedAssignment struct {
		ID            string              `json:"id"`
		Title         string              `json:"title"`
		Accommodation *quiz.Accommodation `json:"accommodation,omitempty"`
	}
	exportedAttempt struct {
		ID         string            `json:"id"`
		Assignment string            `json:"assignment"`
		Number     int               `json:"number"`
		Medium     quiz.Medium       `json:"medium"`
		State      quiz.State        `json:"state"`
		Opened     time.Time         `json:"opened"`
		Started    time.Time         `json:"started,omitzero"`
		Deadline   time.Time         `json:"deadline,omitzero"`
		Ended      time.Time         `json:"ended,omitzero"`
		Answers    []exportedAnswer  `json:"answers"`
		Gradings   []exportedGrading `json:"gradings"`
	}
	exportedAnswer struct {
		Question string    `json:"question"`
		Version  int       `json:"version"`
		Value    string    `json:"value"`
		Seconds  float64   `json:"seconds"`
		At       time.Time `json:"at"`
	}
	exportedGrading struct {
		Number int             `json:"number"`
		At     time.Time       `json:"at"`
		Result quiz.Result     `json:"result"`
		Scores []grading.Score `json:"scores"` // without the keys
	}
	exportedDispute struct {
		Attempt  string            `json:"attempt"`
		Question string            `json:"question"`
		Reason   string            `json:"reason"`
		Opened   time.Time         `json:"opened"`
		State    quiz.DisputeState `json:"state"`
		Verdict  string            `json:"verdict,omitempty"`
		Decided  time.Time         `json:"decided,omitzero"`
	}
	exportedPractice struct {
		At      time.Time     `json:"at"`
		Seconds float64       `json:"seconds"`
		Score   grading.Score `json:"score"` // without the key
	}
	exportedCertified struct {
		Number     string                  `json:"number"`
		Code       string                  `json:"code"`
		Content    certificate.Certificate `json:"content"` // without the answers to its lookups
		Revocation *certificate.Revocation `json:"revocation,omitempty"`
		Changed    []string                `json:"changed,omitempty"` // lookups that have another answer now
		JSON       []byte                  `json:"credential_json,omitempty"`
		JWT        []byte                  `json:"credential_jwt,omitempty"`
		PDF        []byte                  `json:"pdf,omitempty"`
		PNG        []byte                  `json:"png,omitempty"`
	}
	exportedNotice struct {
		At      time.Time         `json:"at"`
		Kind    string            `json:"kind"`
		Subject string            `json:"subject"`
		Detail  map[string]string `json:"detail,omitempty"`
		Read    time.Time         `json:"read,omitzero"`
	}
	exportedScan struct {
		Assignment string          `json:"assignment"`
		Page       int             `json:"page"`
		State      string          `json:"state"`
		Reason     string          `json:"reason,omitempty"`
		Added      time.Time       `json:"added"`
		Reading    json.RawMessage `json:"reading,omitempty"`
		Image      []byte          `json:"image,omitempty"`
	}
	exportedEntry struct {
		Seq     int64     `json:"seq"`
		At      time.Time `json:"at"`
		Action  string    `json:"action"`
		Subject string    `json:"subject"`
		Detail  string    `json:"detail,omitempty"`
		Own     bool      `json:"own"` // the person did it
	}
)

// ExportPerson writes everything that is kept about a person, as it is at one
// moment, as one JSON object; files and images are in base 64. It leaves out
// what is not the person's: hashes of passwords, tokens and codes, and the
// keys of questions and answers of lookups, with what gives them away. Whoever
// exports their own data is told of their attempts what the release rules have
// released: an export is no way around them. That it was made is recorded in the
// audit log first.
func (s *Store) ExportPerson(ctx context.Context, actor, person string, w io.Writer) error {
	if _, err := s.Person(ctx, person); err != nil {
		return err
	}
	if err := s.RecordAudit(ctx, actor, "person.export", "person/"+person, nil); err != nil {
		return err
	}
	var x personExport
	err := s.snapshot(ctx, "export the data of a person", func(tx *gorm.DB) error {
		x = personExport{Format: ExportFormat, Made: s.now().UTC().Truncate(time.Second)}
		if err := s.collect(tx, person, &x); err != nil || actor != person {
			return err
		}
		return x.withhold(tx, s.now())
	})
	if err != nil {
		return err
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	if err := e.Encode(x); err != nil {
		return &quiz.Error{Code: quiz.Unavailable, Text: "write the data of a person", Err: err}
	}
	return nil
}

// collect reads what an export holds.
func (s *Store) collect(tx *gorm.DB, person string, x *personExport) error {
	p, err := s.person(tx, person)
	if err != nil {
		return err
	}
	x.Person = exportedPerson{ID: p.ID, Name: p.Name, Number: p.Number, Mail: p.Mail, Locale: p.Locale, Roles: p.Roles, Apart: p.Apart,
		Left: p.Left, Erased: p.Erased, Created: p.Created}
	if p.Site != "" {
		site, err := find[siteRow](tx, "site", "id = ?", p.Site)
		if err != nil {
			return err
		}
		x.Person.Site = site.Name
	}
	for _, part := range []func(tx *gorm.DB, person string, x *personExport) error{
		collectAccess, collectAttempts, collectPractice, collectCertificates, collectTold, collectAudit,
	} {
		if err := part(tx, person, x); err != nil {
			return err
		}
	}
	return nil
}

// collectAccess reads how the person gets in.
func collectAccess(tx *gorm.DB, person string, x *personExport) error {
	of := func() *gorm.DB { return tx.Where("person_id = ?", person) }
	var accounts []accountRow
	if err := of().Find(&accounts).Error; err != nil {
		return err
	}
	for _, r := range accounts {
		x.Account = &exportedAccount{r.Login, instant(r.Changed), r.Must}
	}
	var codes []codeRow
	if err := of().Find(&codes).Error; err != nil {
		return err
	}
	for _, r := range codes {
		until := instant(r.Expires)
		x.CodeUntil = &until
	}
	var err error
	if x.Sessions, err = list(of().Omit("data").Order("expires"), func(r sessionRow) (time.Time, error) { return instant(r.Expires), nil }); err != nil {
		return err
	}
	x.Tokens, err = list(of().Order("created, id"), func(r tokenRow) (exportedToken, error) {
		return exportedToken{r.Name, instant(r.Created), instant(r.Expires), instant(r.Used), instant(r.Revoked)}, nil
	})
	return err
}

// collectAttempts reads the attempts with all their answers and gradings, the
// assignments that they belong to or that make the person an accommodation,
// and the disputes.
func collectAttempts(tx *gorm.DB, person string, x *personExport) error {
	attempts, err := list(tx.Where("person_id = ?", person).Order("opened, id"), attemptOf)
	if err != nil {
		return err
	}
	x.Attempts = make([]exportedAttempt, 0, len(attempts))
	at := map[string]bool{}
	for _, a := range attempts {
		at[a.Assignment] = true
		e := exportedAttempt{ID: a.ID, Assignment: a.Assignment, Number: a.Number, Medium: a.Medium, State: a.State, Opened: a.Opened,
			Started: a.Started, Deadline: a.Deadline, Ended: a.Ended}
		e.Answers, err = list(tx.Where("attempt_id = ?", a.ID).Order("at, question, version"), func(r responseRow) (exportedAnswer, error) {
			return exportedAnswer{r.Question, int(r.Version), r.Value, seconds(r.Spent), instant(r.At)}, nil
		})
		if err != nil {
			return err
		}
		e.Gradings, err = list(tx.Where("attempt_id = ?", a.ID).Order("number"), func(r gradingRow) (exportedGrading, error) {
			g, err := gradingOf(r)
			for i := range g.Scores {
				g.Scores[i] = withoutKey(g.Scores[i])
			}
			return exportedGrading{g.Number, g.At, g.Result, g.Scores}, err
		})
		if err != nil {
			return err
		}
		x.Attempts = append(x.Attempts, e)
	}
	assignments, err := list(tx.Order("created, id"), assignmentOf)
	if err != nil {
		return err
	}
	x.Assignments = []exportedAssignment{}
	for _, a := range assignments {
		e := exportedAssignment{ID: a.ID, Title: a.Title}
		for _, y := range a.Accommodations {
			if y.Person == person {
				e.Accommodation = &y
			}
		}
		if at[a.ID] || e.Accommodation != nil {
			x.Assignments = append(x.Assignments, e)
		}
	}
	x.Disputes, err = list(tx.Where("person_id = ?", person).Order("opened, id"), func(r disputeRow) (exportedDispute, error) {
		return exportedDispute{r.AttemptID, r.Question, r.Reason, instant(r.Opened), quiz.DisputeState(r.State), r.Verdict, instant(r.Decided)}, nil
	})
	return err
}

// withhold takes out of the attempts what their person may not be shown at a
// time: see quiz.Assignment.Shows.
func (x *personExport) withhold(tx *gorm.DB, now time.Time) error {
	attempts, err := list(tx.Where("person_id = ?", x.Person.ID), attemptOf)
	if err != nil {
		return err
	}
	assignments, err := list(tx, assignmentOf)
	if err != nil {
		return err
	}
	of := map[string]quiz.Assignment{}
	for _, a := range assignments {
		of[a.ID] = a
	}
	shown := map[string]quiz.Shown{}
	for _, a := range attempts {
		shown[a.ID] = of[a.Assignment].Shows(a, attempts, now)
	}
	for i := range x.Attempts {
		a := &x.Attempts[i]
		switch s := shown[a.ID]; {
		case !s.Score && !s.Answers:
			a.Gradings = []exportedGrading{}
		case !s.Score || !s.Answers:
			for g := range a.Gradings {
				if !s.Score {
					a.Gradings[g].Result = quiz.Result{}
				}
				if !s.Answers {
					a.Gradings[g].Scores = []grading.Score{}
				}
			}
		}
	}
	return nil
}

func collectPractice(tx *gorm.DB, person string, x *personExport) error {
	var err error
	x.Practice, err = list(tx.Where("person_id = ?", person).Order("at, client_key"), func(r practiceRow) (exportedPractice, error) {
		e := exportedPractice{At: instant(r.At), Seconds: seconds(r.Spent)}
		err := parse(r.Score, &e.Score, "score of an exercise")
		e.Score = withoutKey(e.Score)
		return e, err
	})
	return err
}

func collectCertificates(tx *gorm.DB, person string, x *personExport) error {
	var err error
	x.Certificates, err = list(tx.Where("person_id = ?", person).Order("number"), func(r certificateRow) (exportedCertified, error) {
		c, err := certificateOf(r)
		if err != nil {
			return exportedCertified{}, err
		}
		e := exportedCertified{Number: c.Number, Code: c.Code, Content: c.Certificate, Revocation: c.Revocation}
		for i := range e.Content.Lookups {
			e.Content.Lookups[i].Answer = ""
		}
		for _, change := range c.Changes {
			e.Changed = append(e.Changed, change.Lookup.ID)
		}
		var files []filesRow
		err = tx.Where("number = ?", r.Number).Find(&files).Error
		for _, f := range files {
			e.JSON, e.JWT, e.PDF, e.PNG = f.JSON, f.JWT, f.PDF, f.PNG
		}
		return e, err
	})
	return err
}

// collectTold reads what the person was told and the pages that were scanned.
func collectTold(tx *gorm.DB, person string, x *personExport) error {
	var err error
	x.Notices, err = list(tx.Where("person_id = ?", person).Order("at, id"), func(r noticeRow) (exportedNotice, error) {
		n, err := noticeOf(r)
		return exportedNotice{n.At, n.Kind, n.Subject, n.Detail, n.Read}, err
	})
	if err != nil {
		return err
	}
	x.Scans, err = list(tx.Where("person_id = ?", person).Order("added, id"), func(r scanRow) (exportedScan, error) {
		return exportedScan{r.AssignmentID, int(r.Page), r.State, r.Reason, instant(r.Added), unfilled(r.Reading), r.Image}, nil
	})
	return err
}

func collectAudit(tx *gorm.DB, person string, x *personExport) error {
	var err error
	x.Audit, err = list(tx.Where("actor = ? OR subject = ?", person, "person/"+person).Order("seq"), func(r entryRow) (exportedEntry, error) {
		return exportedEntry{r.Seq, instant(r.At), r.Action, r.Subject, r.Detail, r.Actor == person}, nil
	})
	return err
}

func seconds(micros int64) float64 { return (time.Duration(micros) * time.Microsecond).Seconds() }

// withoutKey gives a score without the key and what gives it away.
func withoutKey(s grading.Score) grading.Score {
	kept := grading.Score{Question: s.Question, Kind: s.Kind, Skill: s.Skill, Given: s.Given, Verdict: s.Verdict, Points: s.Points, Slip: s.Slip, Known: s.Known, Step: s.Step}
	for _, step := range s.Steps {
		step.Right = ""
		kept.Steps = append(kept.Steps, step)
	}
	return kept
}
