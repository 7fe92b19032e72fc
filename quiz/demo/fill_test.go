package demo_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rightpage/grading"
	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/demo"
	"rightpage/quiz/issuing"
	"rightpage/quiz/store"
)

// present is when the tests take place: a Wednesday, before noon.
var present = time.Date(2026, 9, 16, 10, 20, 0, 0, time.UTC)

// filled is a store with the demonstration in it.
type filled struct {
	s    *store.Store
	d    *demo.Demo
	keys *issuing.Keys
	err  error
}

// The demonstration, twice.
var first, second filled

func TestMain(m *testing.M) {
	// In memory where there is such a folder, so as not to wait for the disk.
	dir, err := os.MkdirTemp("/dev/shm", "demo")
	if err != nil {
		dir, err = os.MkdirTemp("", "demo")
	}
	if err != nil {
		panic(err)
	}
	var wg sync.WaitGroup
	for i, f := range []*filled{&first, &second} {
		wg.Go(func() { *f = fill(filepath.Join(dir, fmt.Sprint(i)), present) })
	}
	wg.Wait()
	code := m.Run()
	for _, f := range []filled{first, second} {
		if f.s != nil {
			_ = f.s.Close()
		}
	}
	_ = os.RemoveAll(dir)
	os.Exit(code)
}

func fill(dir string, at time.Time) (f filled) {
	ctx := context.Background()
	clock := demo.NewClock(func() time.Time { return at })
	if f.err = os.Mkdir(dir, 0o700); f.err != nil {
		return f
	}
	if f.s, f.err = store.Open(ctx, filepath.Join(dir, "demo.db"), store.Options{Now: clock.Now}); f.err != nil {
		return f
	}
	if f.err = f.s.Migrate(ctx); f.err != nil {
		return f
	}
	if f.keys, f.err = issuing.OpenKeys(filepath.Join(dir, "keys.json"), ""); f.err != nil {
		return f
	}
	f.d, f.err = demo.Fill(ctx, f.s, demo.Options{Clock: clock, Catalogs: os.DirFS("../../testdata"), Keys: f.keys})
	return f
}

func filledStore(t *testing.T) (*store.Store, *demo.Demo) {
	t.Helper()
	if first.err != nil {
		t.Fatal(first.err)
	}
	return first.s, first.d
}

// get stops the test at an error.
func get[T any](x T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
}

// story writes everything that happened, but for the IDs that the store draws.
func story(t *testing.T, f filled, w io.Writer) {
	t.Helper()
	if f.err != nil {
		t.Fatal(f.err)
	}
	ctx := context.Background()
	names := map[string]string{}
	for _, p := range f.d.People {
		names[p.ID] = p.Name
	}
	var lines []string
	for o, err := range f.s.Outcomes(ctx, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, fmt.Sprintln(o.At.UTC(), names[o.Person], o.Source, o.Spent, o.Score.Question, o.Score.Given, o.Score.Points, o.Score.Slip))
	}
	for _, c := range get(f.s.Certificates(ctx))(t) {
		lines = append(lines, fmt.Sprintln("certificate", c.Number, c.Person, c.Quiz, c.Issued, c.Expires, len(c.Changes), c.Revocation != nil))
	}
	for title, id := range f.d.Assignments {
		for _, a := range get(f.s.AttemptsAt(ctx, id))(t) {
			lines = append(lines, fmt.Sprintln("attempt", title, names[a.Person], a.Medium, a.State, a.Result.Points, a.Result.Of, a.Gradings))
		}
	}
	slices.Sort(lines)
	for _, l := range lines {
		_, _ = io.WriteString(w, l)
	}
}

// The same seed and present give the same history.
func TestTheSameHistoryEachTime(t *testing.T) {
	var a, b strings.Builder
	story(t, first, &a)
	story(t, second, &b)
	x, y := strings.Split(a.String(), "\n"), strings.Split(b.String(), "\n")
	if len(x) != len(y) || a.String() != b.String() {
		for i := range x {
			if i >= len(y) || x[i] != y[i] {
				t.Fatalf("two histories of %d and %d lines differ, first in\n%s\n%s", len(x), len(y), x[i], y[min(i, len(y)-1)])
			}
		}
	}
	t.Logf("%d lines, SHA-256 %x", len(x), sha256.Sum256([]byte(a.String())))
}

func TestPeopleAndTheirLogins(t *testing.T) {
	s, d := filledStore(t)
	ctx := context.Background()
	if len(d.People) != 26 || len(d.Sites) != 3 {
		t.Errorf("%d people at %d sites, want 26 at 3", len(d.People), len(d.Sites))
	}
	at := map[string]int{}
	numbers, apart, left := map[string]bool{}, 0, 0
	for _, p := range d.People {
		at[p.Site]++
		numbers[p.Number] = true
		if p.Apart {
			apart++
		}
		if !p.Active(present) {
			left++
		}
	}
	if len(at) != 3 || len(numbers) != 26 || apart == 0 || left == 0 {
		t.Errorf("people by site %v, %d staff numbers, %d opted out of recognition, %d left", at, len(numbers), apart, left)
	}
	var roles []quiz.Role
	for _, l := range d.Logins {
		roles = append(roles, l.Role)
		account := get(s.Account(ctx, l.Login))(t)
		match, _, err := quiz.DefaultPasswords().Match(l.Password, account.Hash)
		if err != nil || !match || account.Person != l.Person.ID || !l.Person.Has(l.Role) || account.Must {
			t.Errorf("login %s as %s: password fits: %v, %v; roles %v", l.Login, l.Role, match, err, l.Person.Roles)
		}
	}
	if d := cmp.Diff(quiz.Roles(), roles); d != "" {
		t.Error("one login per role: ", d)
	}
	if err := quiz.CheckPassword(demo.Password, "callum", "Callum Thistlewood"); err != nil {
		t.Error(err)
	}
}

func TestCertificatesInEveryStanding(t *testing.T) {
	s, d := filledStore(t)
	ctx := context.Background()
	settings := get(s.Settings(ctx))(t)
	policy := certificate.Policy{OutdatedAbove: settings.OutdatedAbove}
	all, own := map[certificate.State]int{}, map[certificate.State]int{}
	for _, c := range get(s.Certificates(ctx))(t) {
		state := c.Standing(policy, present).State
		all[state]++
		if c.PersonID == d.Logins[0].Person.ID {
			own[state]++
		}
		files := get(s.CertificateFiles(ctx, c.Number))(t)
		if len(files.PDF) == 0 || len(files.JSON) == 0 || len(files.PNG) == 0 || len(files.JWT) == 0 {
			t.Errorf("certificate %s is not whole", c.Number)
		}
	}
	for _, state := range []certificate.State{certificate.Valid, certificate.Expired, certificate.Outdated, certificate.Revoked} {
		if all[state] == 0 {
			t.Errorf("no certificate is %s: %v", state, all)
		}
	}
	for _, state := range []certificate.State{certificate.Valid, certificate.Expired, certificate.Outdated} {
		if own[state] == 0 {
			t.Errorf("the technician to log in as has none that is %s: %v", state, own)
		}
	}
}

func TestWhatIsUnderWay(t *testing.T) {
	s, d := filledStore(t)
	ctx := context.Background()
	technician := d.Logins[0].Person

	a := get(s.Attempt(ctx, d.Unfinished))(t)
	answers := quiz.Latest(get(s.Answers(ctx, a.ID))(t))
	if left, limited := a.Left(present); a.Person != technician.ID || a.State != quiz.Started || len(answers) != 7 || !limited || left < 30*time.Minute {
		t.Errorf("attempt of %s is %s with %d answers, %v left; want 7 of a quiz that is open now", a.Person, a.State, len(answers), left)
	}
	of := get(s.Assignment(ctx, a.Assignment))(t)
	if of.Open.After(present) || !of.Close.After(present) {
		t.Errorf("%s is open from %v to %v", of.Title, of.Open, of.Close)
	}
	due := get(s.Assignment(ctx, d.Assignments["Entry exam for the hydraulics course"]))(t)
	if n := len(get(s.AttemptsAt(ctx, due.ID))(t)); due.Open.After(present) || !due.Close.After(present) || n > 0 || !due.For(technician) {
		t.Errorf("the exam is open from %v to %v and has %d attempts; want one that is due", due.Open, due.Close, n)
	}
	courses := get(s.Requirements(ctx, present))(t)
	if len(courses) != 2 {
		t.Fatalf("%d courses ahead, want 2", len(courses))
	}
	for _, c := range courses {
		if ahead := c.Date.Sub(present); ahead < 20*24*time.Hour || ahead > 100*24*time.Hour || c.Check() != nil {
			t.Errorf("%s is in %v: %v", c.Course, ahead, c.Check())
		}
	}
	unread := 0
	kinds := map[string]bool{}
	for _, n := range get(s.Notices(ctx, technician.ID, 100))(t) {
		kinds[n.Kind] = true
		if n.Kind == quiz.NoticeAssignment && n.Detail["assignment"] == "" {
			t.Errorf("the notice of an assignment has no title: %+v", n)
		}
		if n.Read.IsZero() {
			unread++
		}
	}
	if unread != 3 || !kinds[quiz.NoticeAssignment] || !kinds[quiz.NoticeCertificate] || !kinds[quiz.NoticeOutdated] {
		t.Errorf("%d notices not read, want those of two new quizzes and an outdated certificate; kinds %v", unread, kinds)
	}
}

func TestWhatHappened(t *testing.T) {
	s, d := filledStore(t)
	ctx := context.Background()

	catalogs := get(s.Catalogs(ctx))(t)
	if len(catalogs) != 3 || !catalogs[0].InForce || catalogs[0].Revision != "2026-1" || catalogs[1].InForce || catalogs[2].InForce {
		t.Errorf("catalogs: %+v; want the last of three in force", catalogs)
	}
	paper, regraded, reasons := 0, 0, map[string]bool{}
	for _, id := range d.Assignments {
		for _, a := range get(s.AttemptsAt(ctx, id))(t) {
			if a.Medium == quiz.OnPaper {
				paper++
			}
			if a.Gradings > 1 {
				regraded++
				reasons[a.Result.Reason] = true
			}
		}
	}
	if paper < 10 || regraded == 0 || len(reasons) < 2 {
		t.Errorf("%d attempts on paper, %d regraded for %v; want some of each, by a supplement and by a dispute", paper, regraded, reasons)
	}
	for _, state := range []quiz.DisputeState{quiz.DisputeOpen, quiz.DisputeAccepted, quiz.DisputeRejected} {
		if n := len(get(s.Disputes(ctx, state))(t)); n != 1 {
			t.Errorf("%d disputes are %s, want 1", n, state)
		}
	}
	if _, err := s.VerifyAudit(ctx); err != nil {
		t.Error(err)
	}
}

// No score is made up: what people answered in the quizzes, graded again, has
// the points of the first grading.
func TestScoresAreThoseOfTheGrader(t *testing.T) {
	s, d := filledStore(t)
	ctx := context.Background()
	checked, wrong, known := 0, 0, 0
	for _, id := range d.Assignments {
		as := get(s.Assignment(ctx, id))(t)
		form := get(s.Form(ctx, as.Form))(t)
		rules := grading.Rules{AllOrNothing: !form.Blueprint.PartialCredit}
		for _, a := range get(s.AttemptsAt(ctx, id))(t) {
			if a.State != quiz.Graded {
				continue
			}
			given := quiz.Latest(get(s.Answers(ctx, a.ID))(t))
			scores := map[string]grading.Score{}
			for _, x := range get(s.Gradings(ctx, a.ID))(t)[0].Scores {
				scores[x.Question] = x
			}
			for _, q := range form.Variants[a.Variant].Questions {
				want, err := grading.Grade(q, given[q.ID].Value, rules)
				if err != nil {
					t.Fatal(err)
				}
				if got := scores[q.ID]; got.Points != want.Points || got.Slip != want.Slip {
					t.Errorf("%q to question %s has %g points (%v), the grader gives %g (%v)", given[q.ID].Value, q.ID, got.Points, got.Slip, want.Points, want.Slip)
				}
				checked++
				if want.Verdict == grading.Wrong {
					wrong++
					if want.Known {
						known++
					}
				}
			}
		}
	}
	if checked < 2000 || wrong < checked/10 || known < wrong*8/10 {
		t.Errorf("%d answers, %d wrong, of these %d by a slip that is known", checked, wrong, known)
	}
}

func TestAStoreWithPeopleIsLeftAlone(t *testing.T) {
	s, _ := filledStore(t)
	clock := demo.NewClock(func() time.Time { return present })
	_, err := demo.Fill(context.Background(), s, demo.Options{Clock: clock, Catalogs: os.DirFS("../../testdata"), Keys: first.keys})
	if quiz.ErrorCode(err) != quiz.Conflict {
		t.Errorf("filling it again gives %v, want a conflict", err)
	}
	if _, err := demo.Fill(context.Background(), s, demo.Options{}); err == nil {
		t.Error("filling without clock, catalogs and keys gives no error")
	}
}

func TestTheClockGoesOn(t *testing.T) {
	if got := get(first.s.Settings(context.Background()))(t); got.Organisation != demo.Organisation {
		t.Errorf("organisation %q", got.Organisation)
	}
	now := present
	c := demo.NewClock(func() time.Time { return now })
	if !c.Now().Equal(present) {
		t.Errorf("the clock shows %v", c.Now())
	}
	now = now.Add(time.Hour)
	if !c.Now().Equal(now) {
		t.Errorf("an hour later the clock shows %v", c.Now())
	}
}

func BenchmarkFill(b *testing.B) {
	for b.Loop() {
		if f := fill(filepath.Join(b.TempDir(), "demo"), present); f.err != nil {
			b.Fatal(f.err)
		}
	}
}
