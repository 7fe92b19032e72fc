package store

import (
	"context"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"rightpage/quiz"
)

func TestOneTimeCodes(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		other := d.open(t, x.clock)
		issue := func() string {
			t.Helper()
			code, err := x.IssueCode(ctx, x.coordinator.ID, x.technician.ID, time.Hour)
			must(t, err)
			return code
		}
		refused := func(what, code string) {
			t.Helper()
			p, err := other.RedeemCode(ctx, code)
			if wantCode(t, what, err, quiz.Unidentified); p != "" {
				t.Errorf("%s gave %s", what, p)
			}
		}
		first := issue()
		if !regexp.MustCompile(`^[0-9A-HJKMNP-TV-Z]{4}(-[0-9A-HJKMNP-TV-Z]{4}){2}$`).MatchString(first) {
			t.Errorf("code %s", first)
		}
		second := issue()
		refused("a code that a later one replaced", first)
		refused("no code", "")
		var got atomic.Int64
		typed := " " + strings.NewReplacer("-", "", "0", "o", "1", "l").Replace(strings.ToLower(second)) + " "
		together(6, func(i int) {
			p, err := []*Store{x.Store, other}[i%2].RedeemCode(ctx, typed)
			if err == nil && p == x.technician.ID {
				got.Add(1)
			} else if quiz.ErrorCode(err) != quiz.Unidentified {
				t.Error(err)
			}
		})
		if got.Load() != 1 {
			t.Errorf("a code worked %d times", got.Load())
		}

		late := issue()
		var kept []codeRow
		must(t, x.r.Find(&kept).Error)
		if len(kept) != 1 || strings.Contains(kept[0].Digest, plainCode(late)) || len(kept[0].Digest) != 64 {
			t.Errorf("codes are stored as they are: %+v", kept)
		}
		x.clock.advance(time.Hour)
		refused("a code that is out of date", late)
		must(t, x.Sweep(ctx))
		must(t, x.r.Find(&kept).Error)
		if len(kept) != 0 {
			t.Errorf("left after a sweep: %+v", kept)
		}
		left := issue()
		x.technician.Left = x.clock.now()
		must(t, x.SavePerson(ctx, "", &x.technician))
		refused("the code of a person who left", left)
		_, err := x.IssueCode(ctx, "", x.technician.ID, time.Hour)
		wantCode(t, "a code for a person who left", err, quiz.Closed)
		_, err = x.IssueCode(ctx, "", "none", time.Hour)
		wantCode(t, "a code for nobody", err, quiz.NotFound)
		_, err = x.IssueCode(ctx, "", x.coordinator.ID, MaxCode+1)
		wantCode(t, "valid for too long", err, quiz.Invalid)
	})
}

func TestTokens(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		add := func(name string, expires time.Time) (quiz.Token, string) {
			t.Helper()
			k := quiz.Token{Person: x.stranger.ID, Name: name, Expires: expires}
			secret, err := x.AddToken(ctx, x.stranger.ID, &k)
			must(t, err)
			return k, secret
		}
		staff, secret := add("Staff system", noon.Add(2*time.Hour))
		wantSame(t, "what is set", staff, quiz.Token{ID: staff.ID, Person: x.stranger.ID, Name: "Staff system", Created: noon, Expires: noon.Add(2 * time.Hour)})
		use := func(secret string, want quiz.Code, used time.Time) {
			t.Helper()
			k, err := x.TokenOf(ctx, secret)
			wantCode(t, "use of a token", err, want)
			if err == nil && !k.Used.Equal(used) {
				t.Errorf("used %v, want %v", k.Used, used)
			}
		}
		use(secret, "", noon)
		x.clock.advance(59 * time.Second)
		use(secret, "", noon) // noted at most once a minute
		x.clock.advance(time.Second)
		use(secret, "", noon.Add(time.Minute))
		use(secret+"x", quiz.Unidentified, noon)
		use("", quiz.Unidentified, noon)
		x.clock.advance(time.Hour)
		endless, second := add("Board", time.Time{})
		of, err := x.Tokens(ctx, x.stranger.ID)
		must(t, err)
		if len(of) != 2 || of[0].Name != "Board" || !of[1].Used.Equal(noon.Add(time.Minute)) {
			t.Errorf("%+v", of)
		}
		x.clock.advance(time.Hour)
		use(secret, quiz.Unidentified, noon) // expired
		use(second, "", x.clock.now())
		for range 2 {
			must(t, x.RevokeToken(ctx, x.stranger.ID, endless.ID))
		}
		use(second, quiz.Unidentified, noon)
		wantCode(t, "no such token", x.RevokeToken(ctx, "", "none"), quiz.NotFound)
		_, third := add("Third", time.Time{})
		var digests []string
		must(t, x.r.Model(&tokenRow{}).Pluck("digest", &digests).Error)
		if len(digests) != 3 || strings.Contains(strings.Join(digests, " "), strings.TrimPrefix(third, tokenMark)) {
			t.Errorf("secrets are stored as they are: %v", digests)
		}
		x.stranger.Left = x.clock.now()
		must(t, x.SavePerson(ctx, "", &x.stranger))
		use(third, quiz.Unidentified, noon)
		_, err = x.AddToken(ctx, "", &quiz.Token{Person: x.stranger.ID, Name: "x"})
		wantCode(t, "a token for a person who left", err, quiz.Closed)
		_, err = x.AddToken(ctx, "", &quiz.Token{Person: x.coordinator.ID, Name: "x", Expires: noon})
		wantCode(t, "a token that has expired", err, quiz.Invalid)
	})
}

func TestNotices(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		ctx := context.Background()
		x := newShop(t, d)
		must(t, x.AddNotices(ctx, nil))
		first := quiz.Notice{ID: "n1", Person: x.technician.ID, At: noon, Kind: quiz.NoticeRegraded, Subject: "attempt/x", Detail: map[string]string{"title": "Week 10"}}
		must(t, x.AddNotices(ctx, []quiz.Notice{first, {Person: x.coordinator.ID, Kind: quiz.NoticeAssignment}}))
		must(t, x.AddNotices(ctx, []quiz.Notice{first, {Person: x.technician.ID, At: noon.Add(time.Hour), Kind: quiz.NoticeOutdated}})) // done again
		got, err := x.Notices(ctx, x.technician.ID, 0)
		must(t, err)
		if len(got) != 2 || got[0].Kind != quiz.NoticeOutdated {
			t.Fatalf("%+v", got)
		}
		wantSame(t, "a notice", got[1], first)
		if got, _ = x.Notices(ctx, x.technician.ID, 1); len(got) != 1 || got[0].Kind != quiz.NoticeOutdated {
			t.Errorf("the last one: %+v", got)
		}
		if got, _ = x.Notices(ctx, x.coordinator.ID, 9); len(got) != 1 || !got[0].At.Equal(noon) || got[0].ID == "" {
			t.Errorf("ID and time are filled in: %+v", got)
		}
		x.clock.advance(time.Minute)
		must(t, x.ReadNotice(ctx, x.technician.ID, "n1"))
		x.clock.advance(time.Minute)
		must(t, x.ReadNotice(ctx, x.technician.ID, "n1"))
		if got, _ = x.Notices(ctx, x.technician.ID, 0); !got[1].Read.Equal(noon.Add(time.Minute)) || !got[0].Read.IsZero() {
			t.Errorf("%+v", got)
		}
		wantCode(t, "somebody else's notice", x.ReadNotice(ctx, x.coordinator.ID, "n1"), quiz.NotFound)
		wantCode(t, "nobody is told", x.AddNotices(ctx, []quiz.Notice{{Person: x.technician.ID, Kind: "x"}, {Person: "none", Kind: "x"}}), quiz.Invalid)
		if got, _ = x.Notices(ctx, x.technician.ID, 0); len(got) != 2 {
			t.Error("some of the notices were kept")
		}
	})
}
