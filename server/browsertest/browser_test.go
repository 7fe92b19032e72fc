//go:build browser

package browsertest_test

import (
	"strings"
	"testing"

	"rightpage/server/browsertest"
	"rightpage/server/web/webtest"
)

// What a page does wrong is found: here the page of an error, which must do
// nothing wrong, and the same with faults put in.
func TestFaultsAreFound(t *testing.T) {
	a, _ := webtest.Open(t)
	srv := webtest.Serve(t, a, nil)
	browser := browsertest.Start(t)
	for _, w := range []browsertest.Window{browsertest.Phone(), {Width: 1280, Height: 900, Dark: true}} {
		tab := browsertest.Open(t, browser, srv.URL, w)
		tab.Go("/no-such-page")
		tab.Picture("error-" + map[bool]string{true: "desk-dark", false: "phone"}[w.Dark])
		if faults := tab.Faults(); len(faults) > 0 {
			t.Errorf("%v:\n%s", w, strings.Join(faults, "\n"))
		}
		tab.Script(`document.querySelector("main").insertAdjacentHTML("beforeend", "<img src=x><p class=wide>" + "x".repeat(9) + "</p>");
			document.querySelector("main p").style.width = "3000px"; setTimeout(() => { throw new Error("a fault of the script") })`)
		faults := strings.Join(tab.Faults(), "\n")
		for _, want := range []string{"image-alt", "a fault of the script", "wide in a window"} {
			if !strings.Contains(faults, want) {
				t.Errorf("not found: %s in\n%s", want, faults)
			}
		}
	}
}
