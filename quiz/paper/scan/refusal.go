package scan

import "fmt"

// Reason is why a page was not read as an answer sheet.
type Reason int

// The reasons.
const (
	BlankPage      Reason = iota // nothing on it: the back of a sheet, most often
	NoSheet                      // no corner marks of an answer sheet
	MarkMissing                  // some corner marks but not four
	TooCoarse                    // too few pixels
	TooPale                      // black is hardly darker than white
	CodeUnread                   // the square code cannot be read
	CodeBad                      // it can, but is no sheet code or a damaged one
	UnknownSheet                 // no such quiz, variant, person or page here
	OtherLayout                  // printed with another geometry than the one on record
	DuplicateSheet               // already read
	NoPicture                    // a PDF page without a picture that can be read
	BadFile                      // not a picture or PDF, damaged, or too big
)

var reasonTexts = [...]string{
	BlankPage: "blank page", NoSheet: "no answer sheet", MarkMissing: "corner mark missing",
	TooCoarse: "picture too coarse", TooPale: "picture too pale", CodeUnread: "square code unreadable",
	CodeBad: "square code not valid", UnknownSheet: "unknown sheet", OtherLayout: "printed by another layout",
	DuplicateSheet: "duplicate sheet", NoPicture: "no picture on the page", BadFile: "file not readable",
}

// String is the reason in two or three words.
func (r Reason) String() string {
	if r < 0 || int(r) >= len(reasonTexts) {
		return "unknown reason"
	}
	return reasonTexts[r]
}

// Refusal says why a page was not read and how to mend it. It is an error.
type Refusal struct {
	Reason Reason
	Detail string // what exactly, and what to do
	Err    error  // the cause, where there is one
}

func (r *Refusal) Error() string { return r.Reason.String() + ": " + r.Detail }

// Unwrap is the cause.
func (r *Refusal) Unwrap() error { return r.Err }

func refuse(reason Reason, format string, args ...any) *Refusal {
	return &Refusal{Reason: reason, Detail: fmt.Sprintf(format, args...)}
}
