package api

import (
	"encoding/base64"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"rightpage/quiz"
	"rightpage/server/web"
)

// List is a page of a list.
type List[T any] struct {
	Data []T    `json:"data"`
	Next string `json:"next,omitempty" jsonschema_description:"Address of the page that follows; absent on the last"`
}

// How many records a page has.
const (
	usualPage = 100
	mostPage  = 500
)

var pageParameters = []parameter{
	{"limit", "Most records of a page", map[string]any{"type": "integer", "minimum": 1, "maximum": mostPage, "default": usualPage}},
	{"cursor", "Where a page begins, as the address of the next page has it", map[string]any{"type": "string"}},
}

// page gives the page of a list that the query asks for. The key of a record
// orders the list; it must stay as it is while somebody reads page after page,
// so that nothing is left out or told twice when records are added.
func page[T any](c *web.Context, list []T, key func(T) string) (List[T], error) {
	limit := usualPage
	if s := c.QueryParam("limit"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 || n > mostPage {
			return List[T]{}, &queryError{"the limit " + s + " is out of bounds", "use 1 to " + strconv.Itoa(mostPage)}
		}
		limit = n
	}
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b T) int { return strings.Compare(key(a), key(b)) })
	if s := c.QueryParam("cursor"); s != "" {
		after, err := base64.RawURLEncoding.DecodeString(s)
		if err != nil {
			return List[T]{}, &queryError{"there is no such cursor", "follow next as it is given"}
		}
		n, found := slices.BinarySearchFunc(list, string(after), func(x T, k string) int { return strings.Compare(key(x), k) })
		if found {
			n++
		}
		list = list[n:]
	}
	if len(list) <= limit {
		if list == nil {
			list = []T{}
		}
		return List[T]{Data: list}, nil
	}
	list = list[:limit]
	next := nextAddress(c, "cursor", base64.RawURLEncoding.EncodeToString([]byte(key(list[limit-1]))))
	c.Response().Header().Add("Link", "<"+next+`>; rel="next"`) // RFC 8288
	return List[T]{Data: list, Next: next}, nil
}

// nextAddress is the address of the request with another cursor.
func nextAddress(c *web.Context, name, cursor string) string {
	query := url.Values{}
	for k, v := range c.QueryParams() {
		query[k] = v
	}
	query.Set(name, cursor)
	return c.Request().URL.Path + "?" + query.Encode()
}

// each makes a list of another.
func each[S, T any](list []S, make func(S) T) []T {
	out := []T{}
	for _, x := range list {
		out = append(out, make(x))
	}
	return out
}

// Day is a day, as ISO 8601 has it.
type Day time.Time

// MarshalText writes the day.
func (d Day) MarshalText() ([]byte, error) { return []byte(time.Time(d).Format(time.DateOnly)), nil }

// instant writes a time in UTC, to the second or finer if it is finer.
func instant(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.UTC()
}

// dayParameter reads a day or an instant of the query; the zero time if it is
// not there.
func dayParameter(c *web.Context, name string) (time.Time, error) {
	s := c.QueryParam(name)
	if s == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.DateOnly, s); err == nil {
		return t, nil
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return t, &queryError{name + "=" + s + " is no time", "write it as in 2031-03-04 or 2031-03-04T15:00:00Z"}
	}
	return t, nil
}

// peopleByID reads everybody.
func (p *Pages) peopleByID(c *web.Context) (map[string]*quiz.Person, error) {
	all, err := p.app.Store.People(c.Ctx())
	if err != nil {
		return nil, err
	}
	by := make(map[string]*quiz.Person, len(all))
	for i := range all {
		by[all[i].ID] = &all[i]
	}
	return by, nil
}
