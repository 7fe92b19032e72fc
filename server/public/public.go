// Package public is the pages for those who have no account: whether a
// certificate stands, and what other programs need to check one themselves.
package public

import (
	"context"
	"embed"
	"errors"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/issuing"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

//go:embed pages/*.html
var files embed.FS

// Issuer is what these pages need of package issuing.
type Issuer interface {
	Verify(ctx context.Context, number, code string) (issuing.Public, error)
	StatusList(ctx context.Context) ([]byte, error)
	DIDDocument() ([]byte, error)
}

// Pages are the pages for those who have no account.
type Pages struct {
	app    *web.App
	issuer Issuer
	set    *web.PageSet
}

// New makes the pages.
func New(app *web.App, issuer Issuer) (*Pages, error) {
	set, err := app.Pages(files)
	if err != nil {
		return nil, err
	}
	return &Pages{app: app, issuer: issuer, set: set}, nil
}

// verifyRate is how often an address may ask: a stack of certificates can be
// checked, and a code of 40 bits cannot be guessed.
var verifyRate = store.Rate{Burst: 30, Every: 10 * time.Second}

// listRate is how often an address may take what other programs need.
var listRate = store.Rate{Burst: 60, Every: time.Second}

// Routes lists the routes.
func (p *Pages) Routes() []web.Route {
	public := web.Access{Public: true}
	return []web.Route{
		{Method: http.MethodGet, Path: "/verify", Access: public, Handle: p.verify, Rate: &verifyRate},
		{Method: http.MethodGet, Path: "/verify/:number/:code", Access: public, Handle: p.verify, Rate: &verifyRate},
		{Method: http.MethodGet, Path: "/credentials/status", Access: public, Token: true, Handle: p.status, Rate: &listRate},
		{Method: http.MethodGet, Path: "/.well-known/did.json", Access: public, Token: true, Handle: p.did, Rate: &listRate},
	}
}

// verification is what the page of a certificate shows.
type verification struct {
	Number, Code string
	Asked        bool // somebody gave a number and a code
	Found        *issuing.Public
	Mark         string // how the state is shown: good, warn or bad
}

// verify shows the form, or a certificate and its standing. Its address stands
// on certificates as a QR code, so it is asked by GET.
func (p *Pages) verify(c *web.Context) error {
	v := verification{Number: c.Param("number"), Code: c.Param("code")}
	if v.Number == "" {
		v.Number, v.Code = strings.TrimSpace(c.QueryParam("number")), strings.TrimSpace(c.QueryParam("code"))
	}
	if v.Number == "" || v.Code == "" {
		return c.Page(p.set, "verify", v)
	}
	v.Asked = true
	found, err := p.issuer.Verify(c.Ctx(), v.Number, v.Code)
	if errors.Is(err, &quiz.Error{Code: quiz.NotFound}) {
		return c.PageStatus(p.set, http.StatusNotFound, "verify", v)
	}
	if err != nil {
		return err
	}
	v.Found = &found
	switch found.State {
	case certificate.Valid:
		v.Mark = "good"
	case certificate.Outdated, certificate.NotYet:
		v.Mark = "warn"
	default:
		v.Mark = "bad"
	}
	return c.Page(p.set, "verify", v)
}

// status serves the signed list of revoked certificates, for any program.
func (p *Pages) status(c *web.Context) error {
	list, err := p.issuer.StatusList(c.Ctx())
	if err != nil {
		return err
	}
	return p.shared(c, "application/vc", list)
}

// did serves the document of the organisation's did:web.
func (p *Pages) did(c *web.Context) error {
	doc, err := p.issuer.DIDDocument()
	if err != nil {
		return err
	}
	return p.shared(c, "application/did+json", doc)
}

// shared answers with what programs of anybody may read, on pages of others too.
func (p *Pages) shared(c *web.Context, media string, data []byte) error {
	h := c.Response().Header()
	h.Set(echo.HeaderCacheControl, "public, max-age=300")
	h.Set(echo.HeaderAccessControlAllowOrigin, "*")
	h.Set("Cross-Origin-Resource-Policy", "cross-origin")
	return c.Blob(http.StatusOK, media, data)
}
