package quiz

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"iter"
	"strconv"
	"time"
)

// Entry is one entry of the audit log. It names people by ID alone, so that a
// person's data can be erased while the log stays whole.
type Entry struct {
	Seq     int64 // 1 for the first
	At      time.Time
	Actor   string // ID of who did it; empty: the program
	Action  string // "attempt.handin"
	Subject string // what it was done to: "attempt/…"
	Detail  string // JSON object; may be empty
	Prev    string // hash of the entry before; ChainStart for the first
	Hash    string
}

// Head is the end of the audit log. Somebody who keeps a head elsewhere (on
// paper, in a mail) can tell later that nothing before it was changed or cut.
type Head struct {
	Seq  int64
	Hash string
}

// ChainStart is what stands for the hash before the first entry.
const ChainStart = "0000000000000000000000000000000000000000000000000000000000000000"

// ChainHead is the head of an empty log.
func ChainHead() Head { return Head{Hash: ChainStart} }

// Next gives the entry that follows the head, and the new head. Times are
// kept to the microsecond.
func (h Head) Next(e Entry) (Entry, Head) {
	e.Seq, e.Prev = h.Seq+1, h.Hash
	e.At = e.At.UTC().Truncate(time.Microsecond)
	e.Hash = e.sum()
	return e, Head{e.Seq, e.Hash}
}

// sum hashes the entry: SHA-256 over a line that names the format, then each
// field as its length in bytes, a colon, the field and a comma (a netstring),
// so that no two entries hash the same text. The time is RFC 3339 in UTC with
// six decimals.
func (e Entry) sum() string {
	h := sha256.New()
	io.WriteString(h, "rightpage audit 1\n")
	for _, f := range []string{
		strconv.FormatInt(e.Seq, 10), e.At.UTC().Format("2006-01-02T15:04:05.000000Z"),
		e.Actor, e.Action, e.Subject, e.Detail, e.Prev,
	} {
		fmt.Fprintf(h, "%d:%s,", len(f), f)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// BrokenChain says where an audit log was tampered with or damaged.
type BrokenChain struct {
	Seq    int64  // the first entry that does not fit
	Reason string // what does not fit
}

func (b *BrokenChain) Error() string {
	return fmt.Sprintf("the audit log is broken at entry %d: %s", b.Seq, b.Reason)
}

// VerifyChain checks that the entries, in their order, form an unbroken chain
// from the first to the head. It gives a *BrokenChain, or the error that the
// entries come with.
func VerifyChain(entries iter.Seq2[Entry, error], head Head) error {
	at := ChainHead()
	for e, err := range entries {
		if err != nil {
			return err
		}
		switch {
		case e.Seq != at.Seq+1:
			return &BrokenChain{at.Seq + 1, fmt.Sprintf("entry %d stands in its place", e.Seq)}
		case e.Prev != at.Hash:
			return &BrokenChain{e.Seq, "it does not follow from the entry before"}
		case e.sum() != e.Hash:
			return &BrokenChain{e.Seq, "its content was changed"}
		}
		at = Head{e.Seq, e.Hash}
	}
	switch {
	case at.Seq < head.Seq:
		return &BrokenChain{at.Seq + 1, fmt.Sprintf("it is missing; the log should end at entry %d", head.Seq)}
	case at.Seq > head.Seq:
		return &BrokenChain{head.Seq + 1, "it was added behind the recorded end"}
	case at.Hash != head.Hash:
		return &BrokenChain{at.Seq, "it is not the entry recorded as the end"}
	}
	return nil
}
