package store

import (
	"encoding/json"
	"time"

	"rightpage/quiz"
)

// The rows of the present schema version.
type (
	siteRow        = siteV1
	personRow      = personV3
	accountRow     = accountV1
	formRow        = formV1
	assignmentRow  = assignmentV1
	attemptRow     = attemptV3
	responseRow    = responseV2
	gradingRow     = gradingV3
	disputeRow     = disputeV1
	requirementRow = requirementV1
	certificateRow = certificateV1
	entryRow       = entryV1
	headRow        = headV1
	counterRow     = counterV1
	timerRow       = timerV1
	sessionRow     = sessionV1
	limitRow       = limitV1
	practiceRow    = practiceV3
	catalogRow     = catalogV3
	settingsRow    = settingsV3
	codeRow        = codeV3
	tokenRow       = tokenV3
	noticeRow      = noticeV3
	statusRow      = statusV3
	filesRow       = filesV3
	scanRow        = scanV3
)

// micros gives an instant as it is stored.
func micros(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMicro()
}

// instant reads what micros gave.
func instant(n int64) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return time.UnixMicro(n).UTC()
}

// text gives a list or a small structure as it is stored.
func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		// Only values without a JSON form fail, and the types stored have one
		// but for floats that are not numbers, which the rules exclude.
		panic("store: " + err.Error())
	}
	return string(b)
}

// parse reads what text gave.
func parse(s string, v any, what string) error {
	if err := json.Unmarshal([]byte(s), v); err != nil {
		return &quiz.Error{Code: quiz.Internal, Text: "the stored " + what + " cannot be read", Err: err, Mend: "restore a backup"}
	}
	return nil
}

// optional gives a column that is null rather than empty, so that it can be
// unique or refer to something.
func optional(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func given(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
