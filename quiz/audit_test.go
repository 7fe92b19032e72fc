package quiz

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"iter"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func each(entries []Entry) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		for _, e := range entries {
			if !yield(e, nil) {
				return
			}
		}
	}
}

func chain(entries ...Entry) ([]Entry, Head) {
	head := ChainHead()
	for i := range entries {
		entries[i], head = head.Next(entries[i])
	}
	return entries, head
}

// The hash of the first entry, written out by hand from the description of
// the format.
func TestAuditHashIsAsDescribed(t *testing.T) {
	e, head := ChainHead().Next(Entry{At: noon.Add(1234567 * time.Nanosecond), Actor: "p1", Action: "attempt.handin", Subject: "attempt/t1", Detail: `{"n":1}`})
	sum := sha256.Sum256([]byte("rightpage audit 1\n" +
		"1:1,27:2031-03-04T12:00:00.001234Z,2:p1,14:attempt.handin,10:attempt/t1,7:{\"n\":1},64:" + ChainStart + ","))
	if e.Hash != hex.EncodeToString(sum[:]) || head != (Head{1, e.Hash}) || e.Prev != ChainStart {
		t.Errorf("%+v, %+v", e, head)
	}
}

func TestFieldsDoNotRunIntoEachOther(t *testing.T) {
	a, _ := ChainHead().Next(Entry{Actor: "p1", Action: "x"})
	b, _ := ChainHead().Next(Entry{Actor: "p", Action: "1x"})
	if a.Hash == b.Hash {
		t.Error("two entries hash the same text")
	}
}

// Any single change to a log, or cut of it, is found, and where it is.
func TestTamperingIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "entries")
		made := make([]Entry, n)
		for i := range made {
			made[i] = Entry{At: noon.Add(time.Duration(i) * time.Second), Actor: rapid.StringN(0, 3, 9).Draw(t, "actor"),
				Action: rapid.StringN(0, 3, 9).Draw(t, "action"), Subject: "s", Detail: rapid.StringN(0, 3, 9).Draw(t, "detail")}
		}
		entries, head := chain(made...)
		if err := VerifyChain(each(entries), head); err != nil {
			t.Fatalf("an untouched log: %v", err)
		}
		i := rapid.IntRange(0, n-1).Draw(t, "where")
		e := &entries[i]
		want := int64(i + 1)
		switch rapid.SampledFrom([]string{"actor", "action", "subject", "detail", "time", "hash", "rehash", "remove", "swap", "repeat"}).Draw(t, "how") {
		case "actor":
			e.Actor += "x"
		case "action":
			e.Action += "x"
		case "subject":
			e.Subject += "x"
		case "detail":
			e.Detail += "x"
		case "time":
			e.At = e.At.Add(time.Microsecond)
		case "hash":
			e.Hash = ChainStart
		case "rehash": // the content and its hash: the next entry or the head tells
			e.Detail += "x"
			e.Hash = e.sum()
			if i < n-1 {
				want++
			}
		case "remove":
			entries = slices.Delete(entries, i, i+1)
		case "swap":
			if i == n-1 {
				t.Skip("nothing after the last")
			}
			entries[i], entries[i+1] = entries[i+1], entries[i]
		case "repeat":
			entries = slices.Insert(entries, i, entries[i])
			want++
		}
		var broken *BrokenChain
		if err := VerifyChain(each(entries), head); !errors.As(err, &broken) || broken.Seq != want {
			t.Fatalf("tampered at entry %d: %v", want, err)
		}
	})
}

func TestCutAndLengthenedLogs(t *testing.T) {
	entries, head := chain(Entry{Action: "a"}, Entry{Action: "b"}, Entry{Action: "c"})
	for _, c := range []struct {
		name    string
		entries []Entry
		head    Head
		want    int64
	}{
		{"cut at the end", entries[:2], head, 3},
		{"emptied", nil, head, 1},
		{"longer than recorded", entries, Head{2, entries[1].Hash}, 3},
		{"another end recorded", entries, Head{3, ChainStart}, 3},
	} {
		var broken *BrokenChain
		if err := VerifyChain(each(c.entries), c.head); !errors.As(err, &broken) || broken.Seq != c.want {
			t.Errorf("%s: %v, want a break at %d", c.name, err, c.want)
		}
	}
	if err := VerifyChain(each(nil), ChainHead()); err != nil {
		t.Errorf("an empty log: %v", err)
	}
	failing := func(yield func(Entry, error) bool) { yield(Entry{}, errors.New("disk")) }
	if err := VerifyChain(failing, head); err == nil || err.Error() != "disk" {
		t.Errorf("an error of reading: %v", err)
	}
}
