package store

// Schema version 2 adds the language of the interface per person, the time
// spent on an answer, and the outcomes of practice.

type personV2 struct {
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
}

func (personV2) TableName() string { return "people" }

type responseV2 struct {
	AttemptID string     `gorm:"primaryKey;uniqueIndex:responses_key,priority:1"`
	Attempt   *attemptV1 `gorm:"foreignKey:AttemptID" json:"-"`
	Question  string     `gorm:"primaryKey"`
	Version   int64      `gorm:"primaryKey;autoIncrement:false"`
	ClientKey string     `gorm:"not null;uniqueIndex:responses_key,priority:2"`
	Value     string     `gorm:"not null"`
	At        int64      `gorm:"not null"`
	Spent     int64      `gorm:"not null;default:0"`
}

func (responseV2) TableName() string { return "responses" }

// practiceV2 is the outcome of one exercise.
type practiceV2 struct {
	PersonID  string    `gorm:"primaryKey;index:practices_person,priority:1"`
	Person    *personV2 `gorm:"foreignKey:PersonID" json:"-"`
	ClientKey string    `gorm:"primaryKey"`
	At        int64     `gorm:"not null;index:practices_person,priority:2"`
	Spent     int64     `gorm:"not null"`
	Score     string    `gorm:"not null"`
}

func (practiceV2) TableName() string { return "practices" }

// keptV2 lists the tables that a backup holds, referred-to before referring.
func keptV2() []any {
	return []any{
		&siteV1{}, &personV2{}, &accountV1{}, &formV1{}, &assignmentV1{}, &attemptV1{}, &responseV2{}, &gradingV1{},
		&disputeV1{}, &requirementV1{}, &certificateV1{}, &entryV1{}, &headV1{}, &counterV1{}, &timerV1{}, &practiceV2{},
	}
}
