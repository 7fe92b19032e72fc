package library

import (
	"archive/zip"
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"rightpage/banks/catalog"
	"rightpage/quiz"
	"rightpage/quiz/store"
)

// files reads a folder of testdata.
func files(t testing.TB, folder string) map[string][]byte {
	t.Helper()
	list, err := filepath.Glob(filepath.Join("../../testdata", folder, "*"))
	if err != nil || len(list) == 0 {
		t.Fatalf("no files in testdata/%s: %v", folder, err)
	}
	out := map[string][]byte{}
	for _, f := range list {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		out[filepath.Base(f)] = b
	}
	return out
}

// entry of a zip file.
type part struct {
	name, content string
}

func zipped(t testing.TB, parts ...part) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, p := range parts {
		w, err := z.Create(p.name)
		if err == nil {
			_, err = w.Write([]byte(p.content))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// zippedFolder packs a folder as people do: within a folder of its own.
func zippedFolder(t testing.TB, under string, content map[string][]byte) []byte {
	var parts []part
	for _, n := range names(content) {
		parts = append(parts, part{name: under + n, content: string(content[n])})
	}
	slices.Reverse(parts)
	return zipped(t, parts...)
}

func opened(t testing.TB) *store.Store {
	t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "test.db"), store.Options{})
	if err == nil {
		t.Cleanup(func() { s.Close() })
		err = s.Migrate(ctx)
	}
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// added keeps a catalog of testdata and puts it in force.
func added(t testing.TB, s *store.Store, folder string) store.CatalogInfo {
	t.Helper()
	up, err := ReadUpload("c.zip", zippedFolder(t, "c/", files(t, folder)))
	if err != nil || up.Catalog == nil {
		t.Fatalf("%s: %v, %v", folder, err, up.Report.Err())
	}
	ctx := context.Background()
	if err := s.AddCatalog(ctx, "", &up.Info, up.Content); err != nil {
		t.Fatal(err)
	}
	if err := s.PutInForce(ctx, "", up.Info.ID); err != nil {
		t.Fatal(err)
	}
	return up.Info
}

func TestUploadsOfTheSameCatalogAreTheSame(t *testing.T) {
	content := files(t, "quillan")
	want, err := ReadUpload("quillan.zip", zippedFolder(t, "", content))
	if err != nil || want.Catalog == nil {
		t.Fatalf("%v, %v", err, want.Report.Err())
	}
	if want.Info.Title == "" || want.Info.Revision == "" || want.Info.Bytes != int64(len(want.Content)) {
		t.Errorf("info %+v", want.Info)
	}
	again, err := ReadUpload("renamed.ZIP", zippedFolder(t, "Quillan 3/", content))
	if err != nil || !bytes.Equal(again.Content, want.Content) || again.Info != want.Info {
		t.Errorf("the same catalog in a folder of its own is another one: %v", err)
	}
	// What is kept can be read again, and the store gives it the same ID.
	kept, err := ReadUpload("kept.zip", want.Content)
	if err != nil || !bytes.Equal(kept.Content, want.Content) {
		t.Errorf("what is kept reads as another: %v", err)
	}
	info := want.Info
	if err := opened(t).AddCatalog(context.Background(), "", &info, want.Content); err != nil || info.ID != want.Info.ID {
		t.Errorf("kept as %s, read as %s, %v", info.ID, want.Info.ID, err)
	}
}

func TestWorkbookWithItsSettings(t *testing.T) {
	dir := t.TempDir()
	c, err := catalog.Load("../../testdata/quillan")
	if err != nil {
		t.Fatal(err)
	}
	book := filepath.Join(dir, "quillan.xlsx")
	if err := catalog.WriteWorkbook(book, c); err != nil {
		t.Fatal(err)
	}
	data, _ := os.ReadFile(book)
	settings, _ := os.ReadFile(filepath.Join(dir, "quillan.yaml"))
	up, err := ReadWorkbook("quillan.xlsx", data, settings)
	if err != nil || up.Catalog == nil || len(catalog.Diff(c, up.Catalog)) != 0 {
		t.Fatalf("the workbook with its settings: %v, %v", err, up.Report.Err())
	}
	both, err := ReadUpload("both.zip", zipped(t, part{name: "x/quillan.xlsx", content: string(data)}, part{name: "x/catalog.yaml", content: string(settings)}))
	if err != nil || both.Catalog == nil || !bytes.Equal(both.Content, up.Content) {
		t.Errorf("the same in a zip file: %v, %v", err, both.Report.Err())
	}
	alone, err := ReadUpload("quillan.xlsx", data)
	if err != nil || alone.Catalog != nil || !strings.Contains(alone.Report.Err().Error(), "settings") {
		t.Errorf("a workbook alone: %v, %v", err, alone.Report.Err())
	}
}

func TestUploadOfABrokenCatalogSaysEverything(t *testing.T) {
	up, err := ReadUpload("broken.zip", zippedFolder(t, "broken/", files(t, "broken")))
	if err != nil || up.Catalog != nil {
		t.Fatalf("a broken catalog can be used; %v", err)
	}
	if n := up.Report.Count(catalog.Error); n < 2 {
		t.Errorf("%d errors found, want several", n)
	}
	if up.Report[0].File == "" || up.Report[0].Mend == "" {
		t.Errorf("the first finding does not say where and how to mend it: %+v", up.Report[0])
	}
}

func TestUploadsThatAreRefused(t *testing.T) {
	yaml := part{name: "c/catalog.yaml", content: "title: X\n"}
	many := []part{yaml}
	for i := range maxParts {
		many = append(many, part{name: "c/" + strings.Repeat("a", i+1) + ".csv"})
	}
	tests := []struct {
		name, file string
		data       []byte
		says       string
	}{
		{"another type", "c.pdf", []byte("%PDF"), "neither"},
		{"no zip file", "c.zip", []byte("hello"), "no zip file"},
		{"nothing in it", "c.zip", zipped(t, part{name: "readme.txt", content: "hi"}), "no table"},
		{"out of its folder", "c.zip", zipped(t, yaml, part{name: "../../etc/models.csv", content: "x"}), "outside"},
		{"absolute", "c.zip", zipped(t, yaml, part{name: "/models.csv", content: "x"}), "outside"},
		{"backslashes", "c.zip", zipped(t, yaml, part{name: `c\models.csv`, content: "x"}), "outside"},
		{"two folders", "c.zip", zipped(t, yaml, part{name: "d/models.csv", content: "x"}), "more than one folder"},
		{"twice", "c.zip", zipped(t, yaml, part{name: "c/models.csv"}, part{name: "c/Models.csv"}), "twice"},
		{"two catalogs", "c.zip", zipped(t, yaml, part{name: "c/models.csv"}, part{name: "c/c.xlsx"}), "more than one catalog"},
		{"too many files", "c.zip", zipped(t, many...), "at most"},
		{"a bomb", "c.zip", zipped(t, yaml, part{name: "c/models.csv", content: strings.Repeat("0", 20<<20)}), "far more than it should"},
		{"a path as the name of a workbook", "../x.csv.xlsx/..", []byte("PK"), "neither"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			up, err := ReadUpload(tt.file, tt.data)
			if quiz.ErrorCode(err) != quiz.Invalid || !strings.Contains(err.Error(), tt.says) || up.Catalog != nil {
				t.Errorf("got %v, want Invalid that says %q", err, tt.says)
			}
		})
	}
}

func TestFilesThatAreNoPartOfACatalogAreNamed(t *testing.T) {
	content := files(t, "quillan")
	want, err := ReadUpload("a.zip", zippedFolder(t, "q/", content))
	if err != nil {
		t.Fatal(err)
	}
	content["notes.docx"] = []byte("x")
	up, err := ReadUpload("a.zip", zippedFolder(t, "q/", content))
	if err != nil || up.Catalog == nil || !bytes.Equal(up.Content, want.Content) {
		t.Fatalf("a stray file spoils the catalog: %v, %v", err, up.Report.Err())
	}
	if !slices.ContainsFunc(up.Report, func(f catalog.Finding) bool { return f.File == "notes.docx" && f.Severity == catalog.Note }) {
		t.Error("the stray file is not named")
	}
}

func TestLibraryGivesWhatIsInForce(t *testing.T) {
	ctx := context.Background()
	s := opened(t)
	l := New(s, Options{BankSize: 60, Keep: 1})
	if list, err := l.InForce(ctx); err != nil || len(list) != 0 {
		t.Errorf("an empty store has %d catalogs in force, %v", len(list), err)
	}
	old := added(t, s, "quillan")
	first, err := l.InForce(ctx)
	if err != nil || len(first) != 1 || first[0].Info.ID != old.ID || !first[0].Info.InForce || first[0].Resolver == nil {
		t.Fatalf("in force: %v, %v", first, err)
	}
	next := added(t, s, "quillan-next")
	now, err := l.InForce(ctx)
	if err != nil || len(now) != 1 || now[0].Info.ID != next.ID {
		t.Fatalf("in force after the next revision: %v, %v", now, err)
	}
	// The old one is there still, known to be out of force, though memory is
	// for one.
	e, err := l.Entry(ctx, old.ID)
	if err != nil || e.Info.InForce || e.Catalog.Meta().Revision != old.Revision {
		t.Errorf("the old revision: %+v, %v", e, err)
	}
	if of, err := l.InForceOf(ctx, next.Title); err != nil || of.Info.ID != next.ID {
		t.Errorf("in force of its title: %v", err)
	}
	for _, id := range []string{"", "nothing"} {
		if _, err := l.Entry(ctx, id); quiz.ErrorCode(err) != quiz.NotFound {
			t.Errorf("entry %q: %v", id, err)
		}
	}
	if _, err := l.InForceOf(ctx, "nothing"); quiz.ErrorCode(err) != quiz.NotFound {
		t.Errorf("no such title: %v", err)
	}
}

func TestBankIsTheSameInEveryProcessAndMadeOnce(t *testing.T) {
	ctx := context.Background()
	s := opened(t)
	info := added(t, s, "quillan")
	l := New(s, Options{BankSize: 120, Seed: 5})
	var all [8]*Bank
	var wg sync.WaitGroup
	for i := range all {
		wg.Go(func() {
			e, err := l.Entry(ctx, info.ID)
			if err == nil {
				all[i], err = e.Bank(ctx)
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	for _, b := range all {
		if b != all[0] {
			t.Fatal("the bank was made more than once")
		}
	}
	other, err := New(s, Options{BankSize: 120, Seed: 5}).Entry(ctx, info.ID)
	if err != nil {
		t.Fatal(err)
	}
	b, err := other.Bank(ctx)
	if err != nil || len(b.Questions) != 120 {
		t.Fatalf("%d questions, %v", len(b.Questions), err)
	}
	n := 0
	for _, skill := range b.Skills() {
		n += len(b.BySkill(skill))
	}
	if n != len(b.Questions) {
		t.Errorf("the skills hold %d questions of %d", n, len(b.Questions))
	}
	for i, q := range b.Questions {
		if q.ID != all[0].Questions[i].ID {
			t.Fatalf("question %d differs between processes", i)
		}
		if found, ok := b.ByID(q.ID); !ok || found != q {
			t.Errorf("question %s is not found by its ID", q.ID)
		}
	}
	if _, ok := b.ByID("nothing"); ok {
		t.Error("a question is found by no ID")
	}
}

func TestGivingUpWaitingLeavesTheBankToOthers(t *testing.T) {
	s := opened(t)
	info := added(t, s, "quillan")
	l := New(s, Options{BankSize: 60})
	e, err := l.Entry(context.Background(), info.ID)
	if err != nil {
		t.Fatal(err)
	}
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := e.Bank(gone); err != nil && quiz.ErrorCode(err) != quiz.Unavailable {
		t.Errorf("who gave up got %v", err)
	}
	if b, err := e.Bank(context.Background()); err != nil || len(b.Questions) != 60 {
		t.Errorf("who waits got %v", err)
	}
}

func TestCandidateIsJudgedBeforeItIsKept(t *testing.T) {
	up, err := ReadUpload("n.zip", zippedFolder(t, "n/", files(t, "quillan-next")))
	if err != nil {
		t.Fatal(err)
	}
	l := New(opened(t), Options{BankSize: 30})
	e := l.Candidate(up)
	if b, err := e.Bank(context.Background()); err != nil || len(b.Questions) != 30 || e.Info.InForce {
		t.Errorf("the candidate: %v", err)
	}
	if l.Candidate(Upload{}) != nil {
		t.Error("an upload that cannot be used is a candidate")
	}
}

func FuzzReadUpload(f *testing.F) {
	f.Add("c.zip", zipped(f, part{name: "c/catalog.yaml", content: "title: X\nmaker: Y\nrevision: 1\n"}, part{name: "c/models.csv", content: "code\nA\n"}))
	f.Add("c.zip", []byte("PK\x05\x06"+strings.Repeat("\x00", 18)))
	f.Add("c.xlsx", []byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		up, err := ReadUpload(name, data)
		if err != nil && quiz.ErrorCode(err) != quiz.Invalid {
			t.Fatalf("%v", err)
		}
		if err == nil && (up.Catalog == nil) != (up.Report.Err() != nil) {
			t.Fatalf("a catalog that cannot be used has no error, or the reverse: %v", up.Report.Err())
		}
	})
}

func BenchmarkReadUpload(b *testing.B) {
	data := zippedFolder(b, "t/", files(b, "tarnfell/2026-1"))
	for b.Loop() {
		if up, err := ReadUpload("t.zip", data); err != nil || up.Catalog == nil {
			b.Fatal(err)
		}
	}
}
