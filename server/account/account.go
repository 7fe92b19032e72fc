// Package account is the pages about oneself: signing in and out, one's own
// account, password and tokens, the language and look of the pages, resetting a
// password by mail or by a printed code, and the set-up of an empty database.
package account

import (
	"context"
	"embed"
	"net/http"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"rightpage/quiz/store"
	"rightpage/server/web"
)

//go:embed pages/*.html
var files embed.FS

// Deps is what the pages need besides what all pages share.
type Deps struct {
	// Mailer sends codes to reset a password; the zero value sends nothing, and
	// people get printed codes instead.
	Mailer Mailer
	// SetupSecret has to be entered to set up an empty database, so that nobody
	// else on the network gets in first. If it is empty nobody sets it up by the
	// web.
	SetupSecret string
}

// Pages are the pages about oneself.
type Pages struct {
	app     *web.App
	deps    Deps
	set     *web.PageSet
	inUse   atomic.Bool    // somebody exists: true for good once it is
	hashing chan struct{}  // as many passwords are hashed at a time as it holds
	sending sync.WaitGroup // mails on their way
}

// New makes the pages.
func New(app *web.App, d Deps) (*Pages, error) {
	set, err := app.Pages(files)
	if err != nil {
		return nil, err
	}
	if err := d.Mailer.Check(); err != nil {
		return nil, err
	}
	// Each hash takes memory on purpose: many at once would take all of it.
	return &Pages{app: app, deps: d, set: set, hashing: make(chan struct{}, max(2, runtime.GOMAXPROCS(0)))}, nil
}

// Wait waits until every mail on its way has been sent or given up, as before the
// server ends.
func (p *Pages) Wait() { p.sending.Wait() }

// How often things may be done. A whole site comes from one address on Monday
// morning, so the rate by address is wide, and it is the one by login that keeps
// guessing in bounds: NIST SP 800-63B, 5.2.2 asks for no more than 100 failures
// in a row (from memory); 10 and then 96 a day are within that for a day, and a
// sign-in that succeeds, or a code, starts the count anew.
var (
	signInByAddress = store.Rate{Burst: 60, Every: 5 * time.Second}
	signInByLogin   = store.Rate{Burst: 10, Every: 15 * time.Minute}
	codeByAddress   = store.Rate{Burst: 20, Every: 30 * time.Second}
	codeByAll       = store.Rate{Burst: 200, Every: time.Second}
	resetByAddress  = store.Rate{Burst: 20, Every: time.Minute}
	resetByPerson   = store.Rate{Burst: 3, Every: 20 * time.Minute}
	setupByAddress  = store.Rate{Burst: 10, Every: 30 * time.Second}
	ownByPerson     = store.Rate{Burst: 30, Every: 10 * time.Second}
	exportByPerson  = store.Rate{Burst: 5, Every: time.Minute}
	passwordByOwner = store.Rate{Burst: 10, Every: time.Minute}
)

// Routes lists the routes.
func (p *Pages) Routes() []web.Route {
	public, own := web.Access{Public: true}, web.Everybody()
	return []web.Route{
		{Method: http.MethodGet, Path: "/", Access: public, Handle: p.home},
		{Method: http.MethodGet, Path: "/sign-in", Access: public, Handle: p.signInPage},
		{Method: http.MethodPost, Path: "/sign-in", Access: public, Handle: p.signIn, Rate: &signInByAddress},
		{Method: http.MethodPost, Path: "/sign-out", Access: public, Handle: p.signOut},
		{Method: http.MethodGet, Path: "/signed-in", Access: own, Early: true, Handle: p.signedIn},
		{Method: http.MethodGet, Path: "/account", Access: own, Handle: p.own},
		{Method: http.MethodPost, Path: "/account", Access: own, Handle: p.saveOwn, Rate: &ownByPerson},
		{Method: http.MethodPost, Path: "/account/notices", Access: own, Handle: p.readNotices},
		{Method: http.MethodPost, Path: "/account/export", Access: own, Handle: p.export, Slow: true, Rate: &exportByPerson},
		{Method: http.MethodGet, Path: "/account/password", Access: own, Early: true, Handle: p.passwordPage},
		{Method: http.MethodPost, Path: "/account/password", Access: own, Early: true, Handle: p.changePassword, Rate: &passwordByOwner},
		{Method: http.MethodGet, Path: "/account/tokens", Access: own, Handle: p.tokens},
		{Method: http.MethodPost, Path: "/account/tokens", Access: own, Handle: p.addToken, Rate: &ownByPerson},
		{Method: http.MethodPost, Path: "/account/tokens/:token/revoke", Access: own, Handle: p.revokeToken},
		{Method: http.MethodPost, Path: "/look", Access: public, Handle: p.look, Rate: &ownByPerson},
		{Method: http.MethodGet, Path: "/reset", Access: public, Handle: p.resetPage},
		{Method: http.MethodPost, Path: "/reset", Access: public, Handle: p.reset, Rate: &resetByAddress},
		{Method: http.MethodGet, Path: "/code", Access: public, Handle: p.codePage},
		{Method: http.MethodPost, Path: "/code", Access: public, Handle: p.useCode, Rate: &codeByAddress},
		{Method: http.MethodGet, Path: "/setup", Access: public, Handle: p.setupPage},
		{Method: http.MethodPost, Path: "/setup", Access: public, Handle: p.setup, Rate: &setupByAddress},
	}
}

// used tells whether there is anybody in the database. Once there is it stays so:
// people leave and are erased, but their record stays.
func (p *Pages) used(ctx context.Context) (bool, error) {
	if p.inUse.Load() {
		return true, nil
	}
	list, err := p.app.Store.People(ctx)
	if err != nil || len(list) == 0 {
		return false, err
	}
	p.inUse.Store(true)
	return true, nil
}
