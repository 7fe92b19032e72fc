package quiz

import (
	"time"

	"rightpage/grading"
)

// Practice is the outcome of one exercise that a person did on their own.
type Practice struct {
	Person string
	Key    string // made by the client; identifies the outcome
	At     time.Time
	Spent  time.Duration
	Score  grading.Score
}

// Check reports what is wrong with p.
func (p Practice) Check() error {
	if p.Person == "" || p.Score.Question == "" || p.Spent < 0 {
		return &Error{Code: Invalid, Text: "the outcome of an exercise lacks its person or question, or took less than no time", Mend: "send all of it"}
	}
	return CheckKey(p.Key)
}
