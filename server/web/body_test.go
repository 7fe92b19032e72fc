package web_test

import (
	"bytes"
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"rightpage/quiz"
	"rightpage/server/web"
	"rightpage/server/web/webtest"
)

func TestUploads(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	a, _ := webtest.Open(t)
	p := webtest.Person(t, a, "Coordinator", "", quiz.Coordinator)
	got := 0
	srv := webtest.Serve(t, a, []web.Route{{Method: "POST", Path: "/x", Body: 40 << 20, Access: web.Everybody(),
		Handle: func(c *web.Context) error {
			u, err := c.Form().File("file", true, 40<<20)
			if err != nil {
				return err
			}
			got = len(u.Data)
			return c.Go("/")
		}}})
	b := webtest.As(t, a, srv, p)
	file := func(size int) webtest.File {
		return webtest.File{Field: "file", Name: "x.zip", Data: bytes.Repeat([]byte("x"), size)}
	}
	if a := b.Upload("/x", nil, file(30<<20)); a.Status != http.StatusSeeOther || got != 30<<20 {
		t.Errorf("30 MiB: status %d, %d bytes arrived", a.Status, got)
	}
	if left, err := os.ReadDir(temp); err != nil || len(left) != 0 {
		t.Errorf("temporary files stayed behind: %v, %v", left, err)
	}
	if a := b.Upload("/x", nil, file(41<<20)); a.Status != http.StatusUnprocessableEntity || !strings.Contains(a.Body, "too large") {
		t.Errorf("too large: status %d:\n%s", a.Status, a.Body)
	}
	got = 0
	if a := webtest.Visit(t, srv).Upload("/x", nil, file(2<<20)); a.Status != http.StatusUnauthorized || got != 0 {
		t.Errorf("from a stranger: status %d, %d bytes arrived", a.Status, got)
	}
}

// What only some may upload is taken from nobody else, however large: it is
// refused before it fills the disk.
func TestLargeBodiesAreTakenFromThoseWhoMay(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	a, _ := webtest.Open(t)
	srv := webtest.Serve(t, a, []web.Route{{Method: "POST", Path: "/x", Body: 40 << 20, Access: web.Access{Administrator: web.All},
		Handle: func(c *web.Context) error { return c.Go("/") }}})
	file := webtest.File{Field: "file", Name: "x.zip", Data: make([]byte, 30<<20)}
	b := webtest.As(t, a, srv, webtest.Person(t, a, "Tech", "", quiz.Technician))
	b.CSRF()
	most := make(chan int64, 1)
	done := make(chan struct{})
	go func() {
		size := int64(0)
		for {
			list, _ := os.ReadDir(temp)
			for _, f := range list {
				if i, err := f.Info(); err == nil {
					size = max(size, i.Size())
				}
			}
			select {
			case <-done:
				most <- size
				return
			case <-time.After(time.Millisecond):
			}
		}
	}()
	got := b.Upload("/x", nil, file)
	close(done)
	if size := <-most; got.Status != http.StatusForbidden || size > web.MaxForm {
		t.Errorf("status %d, up to %d bytes on disk", got.Status, size)
	}
	if got := webtest.As(t, a, srv, webtest.Person(t, a, "Admin", "", quiz.Administrator)).Upload("/x", nil, file); got.Status != http.StatusSeeOther {
		t.Errorf("an administrator: status %d", got.Status)
	}
}

func TestAPasswordSetByAnotherIsChangedFirst(t *testing.T) {
	a, _ := webtest.Open(t)
	p := webtest.Person(t, a, "Tech", "", quiz.Technician)
	ok := func(c *web.Context) error { return c.String(http.StatusOK, "in") }
	srv := webtest.Serve(t, a, []web.Route{
		{Method: "POST", Path: "/enter", Access: web.Access{Public: true}, Handle: func(c *web.Context) error {
			if err := c.SignIn(p, true); err != nil {
				return err
			}
			return c.Go("/")
		}},
		{Method: "GET", Path: "/due", Access: web.Everybody(), Handle: ok},
		{Method: "POST", Path: "/due", Access: web.Everybody(), Handle: ok},
		{Method: "GET", Path: "/account/password", Access: web.Everybody(), Early: true, Handle: ok},
		{Method: "POST", Path: "/account/password", Access: web.Everybody(), Early: true, Handle: func(c *web.Context) error { c.Changed(); return ok(c) }},
	})
	b := webtest.Visit(t, srv)
	b.Post("/enter", nil)
	for _, method := range []string{"GET", "POST"} {
		req, _ := http.NewRequest(method, srv.URL+"/due", strings.NewReader(url.Values{"csrf": {b.CSRF()}}.Encode()))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if got := b.Do(req); got.Status != http.StatusSeeOther || got.Header.Get("Location") != "/account/password" {
			t.Errorf("%s before: status %d to %s", method, got.Status, got.Header.Get("Location"))
		}
	}
	if got := b.Get("/account/password"); got.Body != "in" {
		t.Errorf("the page to change it: status %d", got.Status)
	}
	b.Post("/account/password", nil)
	if got := b.Get("/due"); got.Body != "in" {
		t.Errorf("after: status %d", got.Status)
	}
}
