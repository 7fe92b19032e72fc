package store

// Schema version 3 adds catalogs, settings, one-time codes, tokens, notices,
// the files of certificates and their places in the status list, scanned
// pages, what an attempt was worked on, who keeps apart from recognition and
// whose data was erased. Large columns stand last in their tables, so that
// SQLite reads the others without them.

type personV3 struct {
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
	Locale  string  `gorm:"not null;default:'en'"`
	Apart   bool    `gorm:"not null;default:false"`
	Erased  int64   `gorm:"not null;default:0"`
}

func (personV3) TableName() string { return "people" }

type attemptV3 struct {
	ID           string        `gorm:"primaryKey"`
	AssignmentID string        `gorm:"not null;uniqueIndex:attempts_number,priority:1"`
	Assignment   *assignmentV1 `gorm:"foreignKey:AssignmentID" json:"-"`
	PersonID     string        `gorm:"not null;uniqueIndex:attempts_number,priority:2;index:attempts_person"`
	Person       *personV3     `gorm:"foreignKey:PersonID" json:"-"`
	Number       int64         `gorm:"not null;uniqueIndex:attempts_number,priority:3"`
	Variant      int64         `gorm:"not null"`
	Questions    string        `gorm:"not null"`
	State        string        `gorm:"not null"`
	Opened       int64         `gorm:"not null"`
	Started      int64         `gorm:"not null;index:attempts_started"`
	Deadline     int64         `gorm:"not null"`
	Ended        int64         `gorm:"not null"`
	HandInKey    string        `gorm:"not null"`
	Gradings     int64         `gorm:"not null"`
	Result       string        `gorm:"not null"`
	Version      int64         `gorm:"not null"`
	Medium       string        `gorm:"not null;default:'screen'"`
}

func (attemptV3) TableName() string { return "attempts" }

type practiceV3 struct {
	PersonID  string    `gorm:"primaryKey;index:practices_person,priority:1"`
	Person    *personV3 `gorm:"foreignKey:PersonID" json:"-"`
	ClientKey string    `gorm:"primaryKey"`
	At        int64     `gorm:"not null;index:practices_person,priority:2;index:practices_at"`
	Spent     int64     `gorm:"not null"`
	Score     string    `gorm:"not null"`
}

func (practiceV3) TableName() string { return "practices" }

type catalogV3 struct {
	ID       string `gorm:"primaryKey"`
	Title    string `gorm:"not null;index:catalogs_title"`
	Maker    string `gorm:"not null"`
	Revision string `gorm:"not null"`
	Issued   string `gorm:"not null"`
	Added    int64  `gorm:"not null"`
	ByID     string `gorm:"not null"`
	InForce  bool   `gorm:"not null"`
	Since    int64  `gorm:"not null"`
	Bytes    int64  `gorm:"not null"`
	Content  []byte `gorm:"not null"`
}

func (catalogV3) TableName() string { return "catalogs" }

// settingsV3 is one row of settings, and one that holds the shared secret.
type settingsV3 struct {
	ID      int64  `gorm:"primaryKey;autoIncrement:false"`
	Content string `gorm:"not null"`
	Version int64  `gorm:"not null"`
}

func (settingsV3) TableName() string { return "settings" }

// codeV3 is the one-time code of a person.
type codeV3 struct {
	PersonID string    `gorm:"primaryKey"`
	Person   *personV3 `gorm:"foreignKey:PersonID" json:"-"`
	Digest   string    `gorm:"not null;uniqueIndex:codes_digest"` // SHA-256, so that the database opens no account
	Expires  int64     `gorm:"not null;index:codes_expires"`
}

func (codeV3) TableName() string { return "codes" }

type tokenV3 struct {
	ID       string    `gorm:"primaryKey"`
	PersonID string    `gorm:"not null;index:tokens_person"`
	Person   *personV3 `gorm:"foreignKey:PersonID" json:"-"`
	Name     string    `gorm:"not null"`
	Digest   string    `gorm:"not null;uniqueIndex:tokens_digest"` // SHA-256
	Created  int64     `gorm:"not null"`
	Expires  int64     `gorm:"not null"`
	Used     int64     `gorm:"not null"`
	Revoked  int64     `gorm:"not null"`
}

func (tokenV3) TableName() string { return "tokens" }

type noticeV3 struct {
	ID       string    `gorm:"primaryKey"`
	PersonID string    `gorm:"not null;index:notices_person,priority:1"`
	Person   *personV3 `gorm:"foreignKey:PersonID" json:"-"`
	At       int64     `gorm:"not null;index:notices_person,priority:2"`
	Kind     string    `gorm:"not null"`
	Subject  string    `gorm:"not null"`
	Detail   string    `gorm:"not null"`
	ReadAt   int64     `gorm:"not null"`
}

func (noticeV3) TableName() string { return "notices" }

// statusV3 is the place of a certificate in the status list. It stays when the
// files of the certificate go: the place is never given to another.
type statusV3 struct {
	Number      string         `gorm:"primaryKey"`
	Certificate *certificateV1 `gorm:"foreignKey:Number;references:Number" json:"-"`
	Place       int64          `gorm:"not null;uniqueIndex:statuses_place"`
}

func (statusV3) TableName() string { return "statuses" }

// filesV3 is a certificate as it was issued. Rows are never changed.
type filesV3 struct {
	Number      string         `gorm:"primaryKey"`
	Certificate *certificateV1 `gorm:"foreignKey:Number;references:Number" json:"-"`
	JSON        []byte         `gorm:"column:json;not null"`
	JWT         []byte         `gorm:"column:jwt;not null"`
	PDF         []byte         `gorm:"column:pdf;not null"`
	PNG         []byte         `gorm:"column:png;not null"`
}

func (filesV3) TableName() string { return "certificate_files" }

type scanV3 struct {
	ID           string        `gorm:"primaryKey"`
	AssignmentID string        `gorm:"not null;index:scans_assignment,priority:1"`
	Assignment   *assignmentV1 `gorm:"foreignKey:AssignmentID" json:"-"`
	PersonID     *string       `gorm:"index:scans_person"`
	Person       *personV3     `gorm:"foreignKey:PersonID" json:"-"`
	Page         int64         `gorm:"not null"`
	State        string        `gorm:"not null;index:scans_assignment,priority:2"`
	Reason       string        `gorm:"not null"`
	Added        int64         `gorm:"not null"`
	Version      int64         `gorm:"not null"`
	Reading      []byte        `gorm:"not null"`
	Image        []byte        `gorm:"not null"`
}

func (scanV3) TableName() string { return "scans" }

// gradingV3 adds the index by which late gradings are found.
type gradingV3 struct {
	AttemptID string     `gorm:"primaryKey"`
	Attempt   *attemptV3 `gorm:"foreignKey:AttemptID" json:"-"`
	Number    int64      `gorm:"primaryKey;autoIncrement:false"`
	Result    string     `gorm:"not null"`
	Scores    string     `gorm:"not null"`
	At        int64      `gorm:"not null;index:gradings_at"`
}

func (gradingV3) TableName() string { return "gradings" }

// madeV3 lists the tables that version 3 makes, referred-to before referring.
func madeV3() []any {
	return []any{&catalogV3{}, &settingsV3{}, &codeV3{}, &tokenV3{}, &noticeV3{}, &statusV3{}, &filesV3{}, &scanV3{}}
}

// keptV3 lists the tables that a backup holds, referred-to before referring.
func keptV3() []any {
	return []any{
		&siteV1{}, &personV3{}, &accountV1{}, &formV1{}, &assignmentV1{}, &attemptV3{}, &responseV2{}, &gradingV3{},
		&disputeV1{}, &requirementV1{}, &certificateV1{}, &entryV1{}, &headV1{}, &counterV1{}, &timerV1{}, &practiceV3{},
		&catalogV3{}, &settingsV3{}, &tokenV3{}, &noticeV3{}, &statusV3{}, &filesV3{}, &scanV3{},
	}
}

// passingV3 lists the tables that hold nothing worth keeping: a restored
// backup signs everybody out, and its one-time codes have run out.
func passingV3() []any { return append(passingV1(), &codeV3{}) }
