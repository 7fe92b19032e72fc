package store

// The tables of schema version 1, frozen: a change makes a new version and
// leaves these as they are. Instants are microseconds since 1970 UTC and
// durations microseconds, as integers, since the databases and their drivers
// disagree about times; 0 stands for none. Lists are JSON in text columns.

type siteV1 struct {
	ID      string `gorm:"primaryKey"`
	Name    string `gorm:"not null"`
	Zone    string `gorm:"not null"`
	Version int64  `gorm:"not null"`
}

func (siteV1) TableName() string { return "sites" }

type personV1 struct {
	ID      string  `gorm:"primaryKey"`
	Name    string  `gorm:"not null"`
	Number  *string `gorm:"uniqueIndex:people_number"`
	Mail    string  `gorm:"not null"`
	SiteID  *string `gorm:"index:people_site"`
	Site    *siteV1 `gorm:"foreignKey:SiteID" json:"-"`
	Roles   string  `gorm:"not null"`
	LeftAt  int64   `gorm:"not null"`
	Created int64   `gorm:"not null"`
	Version int64   `gorm:"not null"`
}

func (personV1) TableName() string { return "people" }

type accountV1 struct {
	PersonID string    `gorm:"primaryKey"`
	Person   *personV1 `gorm:"foreignKey:PersonID" json:"-"`
	Login    string    `gorm:"not null;uniqueIndex:accounts_login"`
	Hash     string    `gorm:"not null"`
	Changed  int64     `gorm:"not null"`
	Must     bool      `gorm:"not null"`
	Version  int64     `gorm:"not null"`
}

func (accountV1) TableName() string { return "accounts" }

type formV1 struct {
	ID       string `gorm:"primaryKey"`
	Title    string `gorm:"not null"`
	Catalog  string `gorm:"not null"`
	Revision string `gorm:"not null"`
	Content  []byte `gorm:"not null"`
	Created  int64  `gorm:"not null"`
}

func (formV1) TableName() string { return "forms" }

type assignmentV1 struct {
	ID             string  `gorm:"primaryKey"`
	Title          string  `gorm:"not null"`
	FormID         string  `gorm:"not null;index:assignments_form"`
	Form           *formV1 `gorm:"foreignKey:FormID" json:"-"`
	Targets        string  `gorm:"not null"`
	Opens          int64   `gorm:"not null"`
	Closes         int64   `gorm:"not null"`
	TimeLimit      int64   `gorm:"not null"`
	Attempts       int64   `gorm:"not null"`
	Accommodations string  `gorm:"not null"`
	ReleaseRule    string  `gorm:"not null"`
	Released       int64   `gorm:"not null"`
	ByID           string  `gorm:"not null"`
	Created        int64   `gorm:"not null"`
	Version        int64   `gorm:"not null"`
}

func (assignmentV1) TableName() string { return "assignments" }

type attemptV1 struct {
	ID           string        `gorm:"primaryKey"`
	AssignmentID string        `gorm:"not null;uniqueIndex:attempts_number,priority:1"`
	Assignment   *assignmentV1 `gorm:"foreignKey:AssignmentID" json:"-"`
	PersonID     string        `gorm:"not null;uniqueIndex:attempts_number,priority:2;index:attempts_person"`
	Person       *personV1     `gorm:"foreignKey:PersonID" json:"-"`
	Number       int64         `gorm:"not null;uniqueIndex:attempts_number,priority:3"`
	Variant      int64         `gorm:"not null"`
	Questions    string        `gorm:"not null"`
	State        string        `gorm:"not null"`
	Opened       int64         `gorm:"not null"`
	Started      int64         `gorm:"not null"`
	Deadline     int64         `gorm:"not null"`
	Ended        int64         `gorm:"not null"`
	HandInKey    string        `gorm:"not null"`
	Gradings     int64         `gorm:"not null"`
	Result       string        `gorm:"not null"`
	Version      int64         `gorm:"not null"`
}

func (attemptV1) TableName() string { return "attempts" }

// responseV1 is one version of an answer. Rows are only ever added.
type responseV1 struct {
	AttemptID string     `gorm:"primaryKey;uniqueIndex:responses_key,priority:1"`
	Attempt   *attemptV1 `gorm:"foreignKey:AttemptID" json:"-"`
	Question  string     `gorm:"primaryKey"`
	Version   int64      `gorm:"primaryKey;autoIncrement:false"`
	ClientKey string     `gorm:"not null;uniqueIndex:responses_key,priority:2"`
	Value     string     `gorm:"not null"`
	At        int64      `gorm:"not null"`
}

func (responseV1) TableName() string { return "responses" }

// gradingV1 is one grading of an attempt. Rows are only ever added.
type gradingV1 struct {
	AttemptID string     `gorm:"primaryKey"`
	Attempt   *attemptV1 `gorm:"foreignKey:AttemptID" json:"-"`
	Number    int64      `gorm:"primaryKey;autoIncrement:false"`
	Result    string     `gorm:"not null"`
	Scores    string     `gorm:"not null"`
	At        int64      `gorm:"not null"`
}

func (gradingV1) TableName() string { return "gradings" }

type disputeV1 struct {
	ID        string     `gorm:"primaryKey"`
	AttemptID string     `gorm:"not null;uniqueIndex:disputes_question,priority:1"`
	Attempt   *attemptV1 `gorm:"foreignKey:AttemptID" json:"-"`
	Question  string     `gorm:"not null;uniqueIndex:disputes_question,priority:2"`
	PersonID  string     `gorm:"not null"`
	Reason    string     `gorm:"not null"`
	Opened    int64      `gorm:"not null"`
	State     string     `gorm:"not null;index:disputes_state"`
	ByID      string     `gorm:"not null"`
	Verdict   string     `gorm:"not null"`
	Decided   int64      `gorm:"not null"`
	Version   int64      `gorm:"not null"`
}

func (disputeV1) TableName() string { return "disputes" }

type requirementV1 struct {
	ID      string `gorm:"primaryKey"`
	Course  string `gorm:"not null"`
	Day     int64  `gorm:"not null;index:requirements_day"`
	Skills  string `gorm:"not null"`
	Targets string `gorm:"not null"`
	Version int64  `gorm:"not null"`
}

func (requirementV1) TableName() string { return "requirements" }

type certificateV1 struct {
	Number     string     `gorm:"primaryKey"`
	PersonID   string     `gorm:"not null;index:certificates_person"`
	Person     *personV1  `gorm:"foreignKey:PersonID" json:"-"`
	AttemptID  *string    `gorm:"uniqueIndex:certificates_attempt"`
	Attempt    *attemptV1 `gorm:"foreignKey:AttemptID" json:"-"`
	Code       string     `gorm:"not null"`
	ByID       string     `gorm:"not null"`
	Content    string     `gorm:"not null"`
	Expires    int64      `gorm:"not null;index:certificates_expires"`
	Revocation string     `gorm:"not null"`
	Changes    string     `gorm:"not null"`
	Version    int64      `gorm:"not null"`
}

func (certificateV1) TableName() string { return "certificates" }

// entryV1 is one entry of the audit log. Rows are only ever added; triggers
// refuse anything else.
type entryV1 struct {
	Seq     int64  `gorm:"primaryKey;autoIncrement:false"`
	At      int64  `gorm:"not null"`
	Actor   string `gorm:"not null"`
	Action  string `gorm:"not null"`
	Subject string `gorm:"not null;index:audit_subject"`
	Detail  string `gorm:"not null"`
	Prev    string `gorm:"not null"`
	Hash    string `gorm:"not null"`
}

func (entryV1) TableName() string { return "audit_entries" }

// headV1 is the end of the audit log: one row. Changing it orders those who
// append.
type headV1 struct {
	ID   int64  `gorm:"primaryKey;autoIncrement:false"`
	Seq  int64  `gorm:"not null"`
	Hash string `gorm:"not null"`
}

func (headV1) TableName() string { return "audit_heads" }

// counterV1 is a number that runs on, such as that of the certificates of a year.
type counterV1 struct {
	Name  string `gorm:"primaryKey"`
	Value int64  `gorm:"not null"`
}

func (counterV1) TableName() string { return "counters" }

// timerV1 is something that is due at a time and that one of the servers does.
type timerV1 struct {
	Kind    string `gorm:"primaryKey"`
	Subject string `gorm:"primaryKey"`
	Due     int64  `gorm:"not null;index:timers_due"`
	Owner   string `gorm:"not null"`
	Lease   int64  `gorm:"not null"`
}

func (timerV1) TableName() string { return "timers" }

type sessionV1 struct {
	Token    string `gorm:"primaryKey"` // SHA-256, so that the database opens no session
	PersonID string `gorm:"not null;index:sessions_person"`
	Data     []byte `gorm:"not null"`
	Expires  int64  `gorm:"not null;index:sessions_expires"`
}

func (sessionV1) TableName() string { return "sessions" }

type limitV1 struct {
	Name    string `gorm:"primaryKey"`
	Arrival int64  `gorm:"not null"`
	Expires int64  `gorm:"not null;index:limits_expires"`
}

func (limitV1) TableName() string { return "limits" }

// keptV1 lists the tables that a backup holds, referred-to before referring.
func keptV1() []any {
	return []any{
		&siteV1{}, &personV1{}, &accountV1{}, &formV1{}, &assignmentV1{}, &attemptV1{}, &responseV1{}, &gradingV1{},
		&disputeV1{}, &requirementV1{}, &certificateV1{}, &entryV1{}, &headV1{}, &counterV1{}, &timerV1{},
	}
}

// passingV1 lists the tables that hold nothing worth keeping: a restored
// backup signs everybody out.
func passingV1() []any { return []any{&sessionV1{}, &limitV1{}} }
