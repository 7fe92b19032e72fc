package api_test

import (
	"net/http"
	"net/url"
	"testing"
)

// Whatever is asked, the answer is one that the document has: never a fault of
// the server.
func FuzzQueries(f *testing.F) {
	for _, q := range []string{"since=2031-03-04T00:00:00Z&limit=2", "agent=%7B%22account%22%3A%7B%7D%7D", "cursor=MTIz", "statementId=631e8469-2cb3-54d2-9e63-68a304c98bff",
		"limit=-1&limit=2", "until=%00", "activity=%ff", "agent=null", "agent=[]", "from=2031-01-01", "left=true&role=manager", "standing=valid"} {
		f.Add(q)
	}
	x := openFor(f)
	f.Fuzz(func(t *testing.T, query string) {
		values, err := url.ParseQuery(query)
		if err != nil {
			t.Skip()
		}
		for _, path := range []string{"/statements", "/people", "/requirements", "/certificates"} {
			req, err := http.NewRequest(http.MethodGet, "http://training.example/api/v1"+path+"?"+values.Encode(), nil)
			must(t, err)
			req.Header.Set("Authorization", "Bearer "+x.tokens["coordinator"])
			req.Header.Set("X-Experience-API-Version", "2.0.0")
			switch status := x.status(req); status {
			case 200, 400, 404:
			default:
				t.Errorf("%s?%s: %d", path, values.Encode(), status)
			}
			x.clock.Move(1e9) // no limit of use
		}
	})
}
