package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"
	"time"

	"rightpage/server/words"
)

// PageSet is the templates of a package of pages, together with the layout. A
// page is a file pages/NAME.html that defines "content"; files whose name begins
// with an underscore are parts that every page of the set can use.
//
// Templates are bound to a language and a time zone, so that {{t "id"}} and
// {{day .When}} need to be told neither.
type PageSet struct {
	app   *App
	files fs.FS // nil: the pages of this package alone

	mu    sync.Mutex
	bound map[binding]map[string]*template.Template
}

type binding struct{ locale, zone string }

// maxBindings bounds how many languages and zones are kept bound.
const maxBindings = 64

// Pages makes a set of the templates in the folder pages of a file system, nil
// for those of this package alone. An error says which template is broken.
func (a *App) Pages(from fs.FS) (*PageSet, error) {
	s := &PageSet{app: a, bound: map[binding]map[string]*template.Template{}}
	if from != nil {
		sub, err := fs.Sub(from, "pages")
		if err != nil {
			return nil, err
		}
		s.files = sub
	}
	_, err := s.bind(a.Words.Printer("en"), time.UTC)
	return s, err
}

// bind gives the templates for a language and a zone.
func (s *PageSet) bind(p *words.Printer, zone *time.Location) (map[string]*template.Template, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	key := binding{p.Locale(), zone.String()}
	if list, ok := s.bound[key]; ok {
		return list, nil
	}
	layout, err := template.New("").Funcs(s.app.functions(p, zone)).ParseFS(s.app.base, "_*.html")
	if err != nil {
		return nil, err
	}
	list := map[string]*template.Template{}
	add := func(from fs.FS, base *template.Template) error {
		names, err := fs.Glob(from, "*.html")
		if err != nil {
			return err
		}
		for _, name := range names {
			if strings.HasPrefix(name, "_") {
				continue
			}
			t, err := base.Clone()
			if err == nil {
				t, err = t.ParseFS(from, name)
			}
			if err != nil {
				return fmt.Errorf("page %s: %w", name, err)
			}
			of := labels(t)
			t.Funcs(template.FuncMap{"label": func(field string) string {
				if of[field] == "" {
					return ""
				}
				return p.T(of[field])
			}})
			list[strings.TrimSuffix(path.Base(name), ".html")] = t
		}
		return nil
	}
	if err := add(s.app.base, layout); err != nil {
		return nil, err
	}
	if s.files != nil {
		parts, err := fs.Glob(s.files, "_*.html")
		if err != nil {
			return nil, err
		}
		if len(parts) > 0 {
			if layout, err = layout.ParseFS(s.files, parts...); err != nil {
				return nil, err
			}
		}
		if err := add(s.files, layout); err != nil {
			return nil, err
		}
	}
	if len(s.bound) >= maxBindings {
		clear(s.bound)
	}
	s.bound[key] = list
	return list, nil
}

// View is what a template gets. Data is the page's own.
type View struct {
	*Context
	Title string
	Data  any
	Said  string // what was done on the page before
	CSRF  string
}

// Page answers with a page. Its title is the message NAME.title unless data has a
// method PageTitle.
func (c *Context) Page(set *PageSet, name string, data any) error {
	return c.PageStatus(set, http.StatusOK, name, data)
}

// PageStatus answers with a page and a status, as for a form to be mended.
func (c *Context) PageStatus(set *PageSet, status int, name string, data any) error {
	title := ""
	if t, ok := data.(interface{ PageTitle() string }); ok {
		title = t.PageTitle()
	} else {
		title = c.T(strings.ReplaceAll(name, "-", ".") + ".title")
	}
	return c.page(set, status, name, title, data)
}

func (c *Context) page(set *PageSet, status int, name, title string, data any) error {
	list, err := set.bind(c.Words, c.Zone)
	if err != nil {
		return err
	}
	t := list[name]
	if t == nil {
		return fmt.Errorf("there is no page %s", name)
	}
	v := View{Context: c, Title: title, Data: data}
	v.CSRF, _ = c.Get(csrfField).(string)
	// An address without a route is answered when its request is over: then the
	// session cannot be changed any more, and the next page says it.
	if c.session && c.Ctx().Err() == nil {
		v.Said = c.App.Sessions.PopString(c.Ctx(), sessionFlash)
	}
	var b bytes.Buffer // whole before the first byte is sent: a broken page is an error, not half a page
	if err := t.ExecuteTemplate(&b, "layout", v); err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Language", c.Words.Locale())
	return c.HTMLBlob(status, b.Bytes())
}

// MenuItem is an entry of the menu.
type MenuItem struct {
	Path, Label string // Label is the ID of a message
	Access      Access
}

// Menu lists the entries that the visitor's roles cover.
func (v View) Menu() []MenuItem {
	var list []MenuItem
	for _, m := range v.App.Menu {
		if v.Visitor != nil && m.Access.For(v.Visitor) != Nobody {
			list = append(list, m)
		}
	}
	return list
}

// Here tells whether a path of the menu is where the page is.
func (v View) Here(path string) bool {
	at := v.Request().URL.Path
	return at == path || strings.HasPrefix(at, path+"/")
}

// Look is the visitor's choice of light or dark, "" for that of their system.
func (v View) Look() string {
	if look := v.cookie("look"); look == "light" || look == "dark" {
		return look
	}
	return ""
}

// Languages lists the languages to choose from.
func (v View) Languages() []string { return words.Locales() }
