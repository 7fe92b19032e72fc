// Package browsertest drives a real Chromium for tests of pages: it signs people
// in, looks for violations of accessibility rules, for pages that are wider than
// the window, and for errors in the console.
package browsertest

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Axe is the source of axe-core 4.14.1 (Deque Systems, MPL-2.0), from npm: the
// rules of WCAG 2.2 that a program can check.
//
//go:embed axe/axe.min.js
var Axe string

// Window is how a page is looked at.
type Window struct {
	Width, Height int64
	Dark          bool
	NoScript      bool
}

// Phone and Desk are the windows that everything is looked at in.
func Phone() Window { return Window{Width: 320, Height: 640} }

// Desk is a window on a desk.
func Desk() Window { return Window{Width: 1280, Height: 900} }

// Tab is a tab of a browser.
type Tab struct {
	T    testing.TB
	Ctx  context.Context
	Base string // address of the server

	mu     sync.Mutex
	errors []string
}

// Start starts a Chromium that tabs share, until the test ends. There must be
// one: a test of pages that looked at none would prove nothing.
func Start(t testing.TB) context.Context {
	t.Helper()
	exe := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			exe = path
			break
		}
	}
	if exe == "" {
		t.Fatal("there is no Chromium on this machine: install the Debian package chromium")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(exe), chromedp.NoSandbox,
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("lang", "en-GB"), chromedp.Flag("force-prefers-reduced-motion", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// Open opens a tab with cookies of its own.
func Open(t testing.TB, browser context.Context, base string, w Window) *Tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil { // a time limit of the first call would be that of the tab
		t.Fatal(err)
	}
	ctx, stop := context.WithTimeout(ctx, 5*time.Minute)
	t.Cleanup(stop)
	tab := &Tab{T: t, Ctx: ctx, Base: base}
	err := chromedp.Listen(ctx, func(ev any) {
		tab.mu.Lock()
		defer tab.mu.Unlock()
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			text := e.ExceptionDetails.Text
			if x := e.ExceptionDetails.Exception; x != nil {
				text += " " + x.Description
			}
			tab.errors = append(tab.errors, text)
		case *log.EventEntryAdded:
			// Answers with an error status are what some tests are about.
			if e.Entry.Level == "error" && e.Entry.Source != "network" {
				tab.errors = append(tab.errors, e.Entry.Text)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	call(tab, log.Enable, cdp.Empty{})
	tab.Look(w)
	return tab
}

// call sends a command of the protocol.
func call[P, R any](b *Tab, command cdp.Command[P, R], params P) R {
	b.T.Helper()
	r, err := chromedp.Call(b.Ctx, command, params)
	if err != nil {
		b.T.Fatal(err)
	}
	return r
}

// get runs an action and gives what it finds.
func get[R any](b *Tab, a chromedp.Action[R]) R {
	b.T.Helper()
	r, err := chromedp.Run(b.Ctx, a)
	if err != nil {
		b.T.Fatal(err)
	}
	return r
}

// Look changes the window.
func (b *Tab) Look(w Window) {
	b.T.Helper()
	scheme := "light"
	if w.Dark {
		scheme = "dark"
	}
	b.Do(chromedp.EmulateViewport(w.Width, w.Height))
	call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: w.NoScript})
}

// Do runs actions and ends the test on an error.
func (b *Tab) Do(actions ...chromedp.Action[chromedp.Void]) {
	b.T.Helper()
	if err := chromedp.Do(b.Ctx, actions...); err != nil {
		b.T.Fatal(err)
	}
}

// Cookie sets a cookie, such as that of a session.
func (b *Tab) Cookie(name, value string) {
	b.T.Helper()
	at, err := url.Parse(b.Base)
	if err != nil {
		b.T.Fatal(err)
	}
	hidden := true
	call(b, network.SetCookie, network.SetCookieParams{Name: name, Value: value, Domain: at.Hostname(), Path: "/", HTTPOnly: &hidden})
}

// Go opens a page of the server.
func (b *Tab) Go(path string) {
	b.T.Helper()
	b.Do(chromedp.Navigate(b.Base+path), chromedp.WaitReady(chromedp.CSS("body")))
}

// Path is where the tab is.
func (b *Tab) Path() string {
	b.T.Helper()
	return strings.TrimPrefix(get(b, chromedp.Location()), b.Base)
}

// Text is the text of the page.
func (b *Tab) Text() string {
	b.T.Helper()
	return get(b, chromedp.Text(chromedp.CSS("body")))
}

// Press clicks on what the selector of CSS finds, and waits for the page that
// follows.
func (b *Tab) Press(selector string) {
	b.T.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, 20*time.Second)
	defer cancel()
	if _, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS(selector))); err != nil {
		b.Picture("nothing-follows") // such as of what the browser says of a field
		b.T.Fatalf("no page follows %s at %s: %v", selector, b.Path(), err)
	}
	b.Do(chromedp.WaitReady(chromedp.CSS("body")))
}

// Type types into a field.
func (b *Tab) Type(selector, text string) {
	b.T.Helper()
	b.Do(chromedp.SendKeys(chromedp.CSS(selector), text))
}

// Script runs a script in the page.
func (b *Tab) Script(source string) {
	b.T.Helper()
	get(b, chromedp.Evaluate[any](source))
}

// Eval gives the value of an expression in the page.
func Eval[R any](b *Tab, source string) R {
	b.T.Helper()
	return get(b, chromedp.Evaluate[R](source, chromedp.EvalAwaitPromise))
}

// Picture saves what the page looks like, whole, if the variable
// RIGHTPAGE_PICTURES names a folder.
func (b *Tab) Picture(name string) {
	b.T.Helper()
	dir := os.Getenv("RIGHTPAGE_PICTURES")
	if dir == "" {
		return
	}
	size := call(b, page.GetLayoutMetrics, cdp.Empty{}).CSSContentSize
	beyond := true
	shot := call(b, page.CaptureScreenshot, page.CaptureScreenshotParams{CaptureBeyondViewport: &beyond,
		Clip: &page.Viewport{Width: size.Width, Height: min(size.Height, 6000), Scale: 1}})
	if err := os.WriteFile(filepath.Join(dir, name+".png"), shot.Data, 0o644); err != nil {
		b.T.Fatal(err)
	}
}

// Violation is a rule of accessibility that a page breaks.
type Violation struct {
	ID    string `json:"id"`
	Help  string `json:"help"`
	Nodes []struct {
		Target  []any  `json:"target"`
		HTML    string `json:"html"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

// Violations asks axe-core which rules of WCAG 2.2, levels A and AA, the page
// breaks.
func (b *Tab) Violations() []Violation {
	b.T.Helper()
	b.Script(Axe)
	found := Eval[string](b, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then((r) => JSON.stringify(r.violations))`)
	var list []Violation
	if err := json.Unmarshal([]byte(found), &list); err != nil {
		b.T.Fatal(err)
	}
	return list
}

// Faults lists everything that is wrong with how the page is: rules broken,
// sideways scroll, errors in the console.
func (b *Tab) Faults() []string {
	b.T.Helper()
	var out []string
	for _, v := range b.Violations() {
		for _, n := range v.Nodes {
			out = append(out, fmt.Sprintf("%s: %v %s (%s)", v.ID, n.Target, n.HTML, strings.ReplaceAll(n.Summary, "\n", " ")))
		}
	}
	out = append(out, b.Wide()...)
	b.mu.Lock()
	defer b.mu.Unlock()
	out = append(out, b.errors...)
	b.errors = nil
	return out
}

// Wide says what makes the page wider than the window; nothing if it is not.
func (b *Tab) Wide() []string {
	b.T.Helper()
	type width struct {
		Page, Window float64
		What         string
	}
	wide := Eval[width](b, `(() => { const w = document.documentElement.clientWidth; const over = [...document.querySelectorAll("body *")].find((e) => e.getBoundingClientRect().right > w + 1 && !e.closest(".scroll, nav, .skip, svg"));
		return {Page: document.documentElement.scrollWidth, Window: w, What: over ? over.outerHTML.slice(0, 120) : ""} })()`)
	if wide.Page > wide.Window+1 {
		return []string{fmt.Sprintf("the page is %.0f wide in a window of %.0f: %s", wide.Page, wide.Window, wide.What)}
	}
	return nil
}
