package qti_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rightpage/banks"
	"rightpage/banks/qti"
	"rightpage/banks/resolver"
)

// pack makes a package of items as another system writes it, with nothing of
// ours in it.
func pack(tb testing.TB, items ...string) []byte {
	tb.Helper()
	files := map[string]string{}
	var names []string
	var resources strings.Builder
	for i, item := range items {
		name := fmt.Sprintf("set one/item%d.xml", i+1)
		names = append(names, name)
		files[name] = item
		fmt.Fprintf(&resources, `<resource identifier="r%d" type="imsqti_item_xmlv3p0" href="set%%20one/item%d.xml"><file href="set%%20one/item%d.xml"/></resource>`, i+1, i+1, i+1)
	}
	files["imsmanifest.xml"] = `<?xml version="1.0"?><manifest xmlns="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1" identifier="M1">
		<metadata><schema>QTI Package</schema><schemaversion>3.0.0</schemaversion>
		<m:lom xmlns:m="http://ltsc.ieee.org/xsd/LOM"><m:general><m:title><m:string>Bench</m:string></m:title></m:general></m:lom></metadata>
		<organizations/><resources>` + resources.String() + `</resources></manifest>`
	return zipped(tb, files, append(names, "imsmanifest.xml")...)
}

func zipped(tb testing.TB, files map[string]string, order ...string) []byte {
	tb.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range order {
		w, err := z.Create(name)
		if err == nil {
			_, err = io.WriteString(w, files[name])
		}
		if err != nil {
			tb.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// foreignItem wraps declarations and a body.
func foreignItem(id, rest string) string {
	return `<?xml version="1.0" encoding="UTF-8"?>
<qti-assessment-item xmlns="http://www.imsglobal.org/xsd/imsqtiasi_v3p0" identifier="` + id + `" title="A title" time-dependent="false">` + rest + `</qti-assessment-item>`
}

// The items are ours, in the manner of the examples that go with the
// specification.
func TestForeignItemsBecomePlainQuestions(t *testing.T) {
	base := banks.Question{Catalog: "Bench", Revision: "M1", Kind: "imported", Skill: "imported"}
	tests := []struct {
		name, item string
		want       func(q *banks.Question)
	}{
		{"one of several", foreignItem("one", `
			<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier"><qti-correct-response><qti-value>y</qti-value></qti-correct-response></qti-response-declaration>
			<qti-item-body><p>A belt is <b>worn</b> on
			one   edge.</p><p>Look again.</p>
			<qti-choice-interaction response-identifier="RESPONSE" max-choices="1"><qti-prompt>What is wrong?</qti-prompt>
			<qti-simple-choice identifier="x">It is too old<qti-feedback-inline outcome-identifier="F" identifier="x" show-hide="show">No!</qti-feedback-inline></qti-simple-choice>
			<qti-simple-choice identifier="y">The pulley is <i>out of line</i></qti-simple-choice></qti-choice-interaction></qti-item-body>`),
			func(q *banks.Question) {
				q.Form, q.Stem = banks.OneOf, "A belt is worn on one edge.\nLook again.\nWhat is wrong?"
				q.Options = []banks.Option{{Text: "It is too old", Value: "x"}, {Text: "The pulley is out of line", Value: "y", Right: true}}
			}},
		{"several of several", foreignItem("some", `
			<qti-response-declaration identifier="R" cardinality="multiple" base-type="identifier"><qti-correct-response><qti-value>a</qti-value><qti-value>c</qti-value></qti-correct-response></qti-response-declaration>
			<qti-item-body><qti-choice-interaction response-identifier="R" max-choices="0"><qti-prompt><p>Which two?</p></qti-prompt>
			<qti-simple-choice identifier="a">A</qti-simple-choice><qti-simple-choice identifier="b">B</qti-simple-choice><qti-simple-choice identifier="c">C</qti-simple-choice></qti-choice-interaction></qti-item-body>`),
			func(q *banks.Question) {
				q.Form, q.Stem = banks.SomeOf, "Which two?"
				q.Options = []banks.Option{{Text: "A", Value: "a", Right: true}, {Text: "B", Value: "b"}, {Text: "C", Value: "c", Right: true}}
			}},
		{"typed, with answers worth less", foreignItem("typed", `
			<qti-response-declaration identifier="R" cardinality="single" base-type="string"><qti-correct-response><qti-value>flange</qti-value></qti-correct-response>
			<qti-mapping default-value="0"><qti-map-entry map-key="flange" mapped-value="2"/><qti-map-entry map-key="the flange" mapped-value="2"/><qti-map-entry map-key="rim" mapped-value="1"/></qti-mapping></qti-response-declaration>
			<qti-item-body><blockquote><p>The nut bears on the <qti-text-entry-interaction response-identifier="R"/>.</p></blockquote></qti-item-body>`),
			func(q *banks.Question) {
				q.Form, q.Stem, q.Key = banks.Typed, "The nut bears on the ____ .", banks.Key{Accept: []string{"flange", "the flange"}, Charset: "text"}
			}},
		{"a number with its tolerance", foreignItem("number", `
			<qti-response-declaration identifier="R" cardinality="single" base-type="float"><qti-correct-response><qti-value>12.5</qti-value></qti-correct-response></qti-response-declaration>
			<qti-item-body><p>Volts?</p><p><qti-text-entry-interaction response-identifier="R"/></p></qti-item-body>
			<qti-response-processing><qti-response-condition><qti-response-if><qti-equal tolerance-mode="relative" tolerance="2 2"><qti-variable identifier="R"/><qti-correct identifier="R"/></qti-equal></qti-response-if></qti-response-condition></qti-response-processing>`),
			func(q *banks.Question) {
				q.Form, q.Stem, q.Key = banks.Number, "Volts?\n____", banks.Key{Number: 12.5, Tolerance: 0.25}
			}},
		{"an order", foreignItem("order", `
			<qti-response-declaration identifier="R" cardinality="ordered" base-type="identifier"><qti-correct-response><qti-value>b</qti-value><qti-value>a</qti-value></qti-correct-response></qti-response-declaration>
			<qti-item-body><qti-order-interaction response-identifier="R"><qti-prompt>Order!</qti-prompt><qti-simple-choice identifier="a">fit</qti-simple-choice><qti-simple-choice identifier="b">remove</qti-simple-choice></qti-order-interaction></qti-item-body>`),
			func(q *banks.Question) {
				q.Form, q.Stem, q.Key.Order = banks.Ordered, "Order!", []string{"b", "a"}
				q.Options = []banks.Option{{Text: "fit", Value: "a", Right: true}, {Text: "remove", Value: "b", Right: true}}
			}},
		{"several interactions", foreignItem("composite", `
			<qti-response-declaration identifier="R1" cardinality="single" base-type="identifier"><qti-correct-response><qti-value>a</qti-value></qti-correct-response></qti-response-declaration>
			<qti-response-declaration identifier="R2" cardinality="single" base-type="string"><qti-correct-response><qti-value>7</qti-value></qti-correct-response></qti-response-declaration>
			<qti-item-body><p>Two parts.</p><qti-choice-interaction response-identifier="R1"><qti-prompt>First</qti-prompt><qti-simple-choice identifier="a">A</qti-simple-choice><qti-simple-choice identifier="b">B</qti-simple-choice></qti-choice-interaction>
			<p>Second: <qti-text-entry-interaction response-identifier="R2"/></p></qti-item-body>`),
			func(q *banks.Question) {
				q.Form, q.Stem = banks.Chase, "Two parts.\nSecond: ____"
				q.Steps = []banks.ChaseStep{
					{Step: resolver.LocationStep, Ask: "First", Options: []banks.Option{{Text: "A", Value: "a", Right: true}, {Text: "B", Value: "b"}}},
					{Step: resolver.LocationStep, Ask: "Answer 2", Accept: []string{"7"}},
				}
			}},
	}
	var list []string
	for _, c := range tests {
		list = append(list, c.item)
	}
	got := importAll(t, pack(t, list...))
	if len(got.Refused) > 0 || len(got.Questions) != len(tests) {
		t.Fatalf("%d of %d items were read; refused: %v", len(got.Questions), len(tests), got.Refused)
	}
	for i, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			want := base
			want.About.Record = got.Questions[i].About.Record
			c.want(&want)
			if _, err := banks.Encode(&want); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(&want, got.Questions[i]); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestItemsThatCannotBeAskedAreRefused(t *testing.T) {
	const choice = `<qti-response-declaration identifier="R" cardinality="single" base-type="identifier"><qti-correct-response><qti-value>a</qti-value></qti-correct-response></qti-response-declaration>
		<qti-item-body>%s<qti-choice-interaction response-identifier="R"><qti-prompt>P</qti-prompt><qti-simple-choice identifier="a">A</qti-simple-choice><qti-simple-choice identifier="b">B</qti-simple-choice></qti-choice-interaction></qti-item-body>`
	good := foreignItem("good", fmt.Sprintf(choice, "<p>Good.</p>"))
	tests := []struct{ name, item, says string }{
		{"not XML", "<qti-assessment-item", "not well-formed"},
		{"empty", "", "the document is empty"},
		{"two roots", "<a/><b/>", "two roots"},
		{"an older version", `<assessmentItem xmlns="http://www.imsglobal.org/xsd/imsqti_v2p1"/>`, "no item of QTI 3.0"},
		{"document type", `<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]>` + good[len(`<?xml version="1.0" encoding="UTF-8"?>`):], "document type declaration"},
		{"another encoding", strings.Replace(good, "UTF-8", "ISO-8859-1", 1), "encoding"},
		{"a picture", foreignItem("x", fmt.Sprintf(choice, `<p>See <img src="a.png" alt="a"/></p>`)), "holds <img>"},
		{"nothing to answer", foreignItem("x", `<qti-item-body><p>Read.</p></qti-item-body>`), "no interaction"},
		{"not declared", foreignItem("x", `<qti-item-body><qti-choice-interaction response-identifier="R"/></qti-item-body>`), "not declared"},
		{"no key", foreignItem("x", strings.Replace(fmt.Sprintf(choice, ""), "<qti-correct-response><qti-value>a</qti-value></qti-correct-response>", "", 1)), "no correct response"},
		{"a key that is no choice", foreignItem("x", strings.Replace(fmt.Sprintf(choice, ""), "<qti-value>a", "<qti-value>z", 1)), "0 of 2 options are right"},
		{"an essay", foreignItem("x", `<qti-response-declaration identifier="R" cardinality="single" base-type="string"><qti-correct-response><qti-value>a</qti-value></qti-correct-response></qti-response-declaration><qti-item-body><qti-extended-text-interaction response-identifier="R"/></qti-item-body>`), "cannot be asked here"},
		{"adaptive", strings.Replace(good, `time-dependent`, `adaptive="true" time-dependent`, 1), "adaptive"},
		{"no number", foreignItem("x", `<qti-response-declaration identifier="R" cardinality="single" base-type="float"><qti-correct-response><qti-value>ten</qti-value></qti-correct-response></qti-response-declaration><qti-item-body><p>N<qti-text-entry-interaction response-identifier="R"/></p></qti-item-body>`), "is no number"},
		{"nested too deep", foreignItem("x", strings.Repeat("<div>", 200)+strings.Repeat("</div>", 200)), "nested more than"},
		{"too many parts", foreignItem("x", strings.Repeat("<p/>", 40_000)), "more than 50000 parts"},
		{"too large", foreignItem("x", strings.Repeat(" ", 2<<20)), "larger than what is read"},
		{"the same again", good, "stands in the package before"},
	}
	list := []string{good}
	for _, c := range tests {
		list = append(list, c.item)
	}
	got := importAll(t, pack(t, list...))
	if len(got.Questions) != 1 || len(got.Refused) != len(tests) {
		t.Fatalf("%d questions, %d refused of %d", len(got.Questions), len(got.Refused), len(tests))
	}
	for i, c := range tests {
		if n := got.Refused[i]; !strings.Contains(n.Says, c.says) || n.File != fmt.Sprintf("set%%20one/item%d.xml", i+2) {
			t.Errorf("%s: %s is refused because %q, want %q", c.name, n.File, n.Says, c.says)
		}
	}
}

// change edits one file of a package.
func change(tb testing.TB, pkg []byte, suffix string, edit func(string) string) []byte {
	tb.Helper()
	z, err := zip.NewReader(bytes.NewReader(pkg), int64(len(pkg)))
	if err != nil {
		tb.Fatal(err)
	}
	files := map[string]string{}
	var order []string
	done := false
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			tb.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			tb.Fatal(err)
		}
		s := string(text)
		if strings.HasSuffix(f.Name, suffix) && !done {
			done = true
			s = edit(s)
			if s == string(text) {
				tb.Fatalf("the edit of %s changes nothing:\n%s", f.Name, s)
			}
		}
		files[f.Name] = s
		order = append(order, f.Name)
	}
	return zipped(tb, files, order...)
}

func find(tb testing.TB, form banks.Form) *banks.Question {
	tb.Helper()
	for _, q := range append(slices.Clone(demoBank(tb)), handMade(tb)...) {
		if q.Form == form {
			return q
		}
	}
	tb.Fatalf("there is no question of the form %s", form)
	return nil
}

// An item that was edited elsewhere comes back with the edit, and is said to be
// changed; what the edit does not touch stays.
func TestEditsOfItemsAreSeen(t *testing.T) {
	q := find(t, banks.OneOf)
	right := 0
	for i, o := range q.Options {
		if o.Right {
			right = i
		}
	}
	other := (right + 1) % len(q.Options)
	got := importAll(t, change(t, export(t, q), ".xml", func(s string) string {
		s = strings.Replace(s, "<qti-value>"+banks.Letter(right)+"<", "<qti-value>"+banks.Letter(other)+"<", 1)
		return strings.Replace(s, "<qti-prompt>", "<qti-prompt>Mind: ", 1)
	}))
	if len(got.Questions) != 1 || len(got.Changed) != 1 {
		t.Fatalf("%+v", got)
	}
	n, c := got.Questions[0], got.Changed[0]
	if n.ID == q.ID || c.ID != n.ID || !strings.Contains(c.Says, q.ID) {
		t.Errorf("changed: %+v, the ID was %s and is %s", c, q.ID, n.ID)
	}
	if n.Stem != "Mind: "+q.Stem || !n.Options[other].Right || n.Options[right].Right {
		t.Errorf("the edit is lost: %q, %+v", n.Stem, n.Options)
	}
	if n.Options[other].Slip != resolver.NoSlip {
		t.Errorf("a slip leads to the right option: %v", n.Options[other].Slip)
	}
	if n.Kind != q.Kind || !cmp.Equal(n.Query, q.Query) || !cmp.Equal(n.Trace, q.Trace) || n.Options[right].Value != q.Options[right].Value {
		t.Error("what was not edited has changed")
	}
}

func TestExtensionsAreReadStrictly(t *testing.T) {
	for _, form := range []banks.Form{banks.OneOf, banks.Chase} {
		pkg := export(t, find(t, form))
		for _, c := range []struct{ name, from, to, says string }{
			{"unknown field", `"kind":`, `"colour":1,"kind":`, `unknown field "colour"`},
			{"unknown slip", `"slip":"`, `"slip":"un`, "there is no slip"},
			{"another form", `"form":"` + string(form), `"form":"essay`, "no response form"},
		} {
			got := importAll(t, change(t, pkg, ".json", func(s string) string { return strings.Replace(s, c.from, c.to, 1) }))
			if len(got.Questions) != 0 || len(got.Refused) != 1 || !strings.Contains(got.Refused[0].Says, c.says) {
				t.Errorf("%s, %s: %+v, want a refusal that says %q", form, c.name, got.Refused, c.says)
			}
		}
	}
}

// bomb is an archive whose manifest unpacks to far more than it takes.
func bomb(tb testing.TB, size int) []byte {
	tb.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("imsmanifest.xml")
	if err != nil {
		tb.Fatal(err)
	}
	zeros := make([]byte, 1<<20)
	for range size >> 20 {
		if _, err := w.Write(zeros); err != nil {
			tb.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func TestHostilePackages(t *testing.T) {
	good := pack(t, foreignItem("x", `<qti-item-body/>`))
	many := map[string]string{}
	var names []string
	for i := range 20 {
		n := fmt.Sprint(i)
		many[n] = ""
		names = append(names, n)
	}
	tests := []struct {
		name string
		pkg  []byte
		lim  qti.Limits
		says string
	}{
		{"empty", nil, qti.Limits{}, "no zip archive"},
		{"no archive", []byte("PK\x03\x04 nothing"), qti.Limits{}, "no zip archive"},
		{"cut off", good[:len(good)/2], qti.Limits{}, "no zip archive"},
		{"no manifest", zipped(t, map[string]string{"a": "b"}, "a"), qti.Limits{}, `no file "imsmanifest.xml"`},
		{"a manifest of another kind", zipped(t, map[string]string{"imsmanifest.xml": "<manifest/>"}, "imsmanifest.xml"), qti.Limits{}, "not that of a QTI 3.0 package"},
		{"a file twice", zipped(t, map[string]string{"a": "b"}, "a", "a"), qti.Limits{}, `holds "a" twice`},
		{"too large", good, qti.Limits{Package: 100}, "no more than 100 are read"},
		{"too many files", zipped(t, many, names...), qti.Limits{Files: 10}, "the package has 20 files"},
		{"a bomb", bomb(t, 80<<20), qti.Limits{}, "larger than what is read"},
		{"more in all than is read", good, qti.Limits{Total: 50}, "larger than what is read"},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			_, err := qti.Import(bytes.NewReader(c.pkg), int64(len(c.pkg)), qti.ImportOptions{Limits: c.lim})
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want an error that says %q", err, c.says)
			}
		})
	}
	// A reference cannot lead out of the package or onto the network.
	for _, ref := range []string{"../../etc/passwd", "/etc/passwd", "file:///etc/passwd", "https://example.org/a.xml", "", "%zz", "a/../../b"} {
		pkg := zipped(t, map[string]string{"imsmanifest.xml": `<manifest xmlns="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1" identifier="m"><metadata/><organizations/><resources><resource identifier="r" type="imsqti_item_xmlv3p0" href="` + ref + `"/></resources></manifest>`}, "imsmanifest.xml")
		got := importAll(t, pkg)
		if len(got.Questions) > 0 || len(got.Refused) != 1 {
			t.Errorf("%q: %+v", ref, got)
		}
	}
}

// A false size in the archive does not get around the limits: sizes are counted
// while unpacking.
func TestSizesAreCounted(t *testing.T) {
	pkg := bomb(t, 80<<20)
	// The directory at the end of the archive says how large the file is when
	// unpacked: 80 MiB, little-endian. Make it say 1 KiB.
	at := bytes.LastIndex(pkg, []byte{0, 0, 0, 5})
	if at < 0 {
		t.Fatal("the size is not found in the archive")
	}
	copy(pkg[at:], []byte{0, 4, 0, 0})
	_, err := qti.Import(bytes.NewReader(pkg), int64(len(pkg)), qti.ImportOptions{})
	if err == nil {
		t.Fatal("an archive with a false size is read")
	}
	if errors.Is(err, io.EOF) {
		t.Errorf("unclear error: %v", err)
	}
}

func FuzzItem(f *testing.F) {
	f.Add([]byte(foreignItem("x", `<qti-response-declaration identifier="R" cardinality="single" base-type="string"><qti-correct-response><qti-value>a</qti-value></qti-correct-response></qti-response-declaration><qti-item-body><p>N<qti-text-entry-interaction response-identifier="R"/></p></qti-item-body>`)))
	f.Add([]byte(foreignItem("x", `<qti-response-declaration identifier="R" cardinality="multiple" base-type="identifier"><qti-correct-response><qti-value>a</qti-value></qti-correct-response></qti-response-declaration><qti-item-body><qti-choice-interaction response-identifier="R"><qti-prompt>P</qti-prompt><qti-simple-choice identifier="a">A</qti-simple-choice><qti-simple-choice identifier="b">B</qti-simple-choice></qti-choice-interaction></qti-item-body>`)))
	f.Fuzz(func(t *testing.T, item []byte) {
		got, err := qti.Import(bytes.NewReader(pack(t, string(item))), int64(len(pack(t, string(item)))), qti.ImportOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Questions)+len(got.Refused) != 1 {
			t.Fatalf("%+v", got)
		}
		for _, q := range got.Questions {
			if err := q.Check(); err != nil {
				t.Errorf("a question that cannot be asked was read: %v", err)
			}
			// What was read can be written, and comes back.
			var b bytes.Buffer
			if err := qti.Export(&b, "", each(got.Questions)); err != nil {
				t.Fatal(err)
			}
			again := importAll(t, b.Bytes())
			if len(again.Questions) != 1 || len(again.Changed) > 0 {
				t.Fatalf("%+v", again)
			}
			if diff := cmp.Diff(q, again.Questions[0]); diff != "" {
				t.Error(diff)
			}
		}
	})
}

func FuzzPackage(f *testing.F) {
	f.Add(pack(f, foreignItem("x", `<qti-item-body/>`)))
	q := &banks.Question{Kind: "k", Form: banks.Typed, Stem: "Where?", Key: banks.Key{Accept: []string{"12"}}}
	if _, err := banks.Encode(q); err != nil {
		f.Fatal(err)
	}
	f.Add(export(f, q))
	f.Fuzz(func(t *testing.T, pkg []byte) {
		got, err := qti.Import(bytes.NewReader(pkg), int64(len(pkg)), qti.ImportOptions{})
		if err != nil {
			return
		}
		for _, q := range got.Questions {
			if err := q.Check(); err != nil {
				t.Errorf("a question that cannot be asked was read: %v", err)
			}
		}
	})
}
