// Package technician is the pages of people who learn and are examined: what is
// due, practice, assigned quizzes, own progress and own certificates.
//
// The key of a question does not leave the server before the question is
// answered (practice) or the attempt has ended and the release rule allows it
// (quizzes): pages show what [marking.AskOf] and [marking.Marker.Review] give,
// and nothing else of a question; addresses hold positions and sealed
// references, never IDs of questions, which are hashes of content with the key.
package technician

import (
	"context"
	"crypto/cipher"
	"embed"
	"errors"
	"net/http"
	"time"

	"rightpage/quiz"
	"rightpage/quiz/certificate"
	"rightpage/quiz/library"
	"rightpage/quiz/marking"
	"rightpage/quiz/progress"
	"rightpage/quiz/store"
	"rightpage/server/web"
)

//go:embed pages/*.html
var files embed.FS

// Issuer is what these pages need of package issuing.
type Issuer interface {
	Files(ctx context.Context, number string) (store.Files, error)
	Standing(ctx context.Context, c quiz.Certified) certificate.Standing
	TopUp(ctx context.Context, actor, number string) (quiz.Assignment, error)
}

// Deps are what the pages work with.
type Deps struct {
	Marker   *marking.Marker
	Library  *library.Library
	Progress *progress.Progress
	Issuer   Issuer
	// Secret seals the references to practice questions, at least 16 bytes. All
	// servers on a database need the same; nil: one of this process alone, with
	// which a question that was asked before a restart is asked anew.
	Secret []byte
}

// Pages are the pages of technicians.
type Pages struct {
	app  *web.App
	deps Deps
	set  *web.PageSet
	seal cipher.AEAD
}

// New makes the pages.
func New(app *web.App, deps Deps) (*Pages, error) {
	if deps.Marker == nil || deps.Library == nil || deps.Progress == nil || deps.Issuer == nil {
		return nil, errors.New("technician: something is missing that the pages work with")
	}
	set, err := app.Pages(files)
	if err != nil {
		return nil, err
	}
	seal, err := newSeal(deps.Secret)
	if err != nil {
		return nil, err
	}
	return &Pages{app: app, deps: deps, set: set, seal: seal}, nil
}

// Menu lists the entries of the menu.
func Menu() []web.MenuItem {
	own := web.Access{Technician: web.Own}
	return []web.MenuItem{
		{Path: "/due", Label: "technician.menu.due", Access: own},
		{Path: "/practice", Label: "technician.menu.practice", Access: own},
		{Path: "/progress", Label: "technician.menu.progress", Access: own},
		{Path: "/certificates", Label: "technician.menu.certificates", Access: own},
	}
}

// How often heavier pages may be asked for by one person.
var (
	practiceRate = store.Rate{Burst: 40, Every: time.Second}
	reportRate   = store.Rate{Burst: 10, Every: 6 * time.Second}
)

// Routes lists what the pages do. Everybody may practise and may be examined:
// an assignment can be addressed to any role. Each sees their own alone.
func (p *Pages) Routes() []web.Route {
	own := web.Everybody()
	route := func(method, path string, handle func(*web.Context) error) web.Route {
		return web.Route{Method: method, Path: path, Access: own, Handle: handle}
	}
	of := func(owner func(*web.Context) (string, error), r web.Route) web.Route {
		r.Owner = owner
		return r
	}
	rated := func(rate *store.Rate, r web.Route) web.Route {
		r.Rate = rate
		return r
	}
	get, post := http.MethodGet, http.MethodPost
	return []web.Route{
		route(get, "/due", p.due),
		route(post, "/due/notices", p.readNotice),
		route(get, "/practice", p.practice),
		rated(&practiceRate, route(get, "/practice/next", p.nextExercise)),
		route(get, "/practice/exercises/:ref", p.exercise),
		route(post, "/practice/exercises/:ref", p.answerExercise),
		route(get, "/practice/check", p.checkChoice),
		rated(&practiceRate, route(get, "/practice/check/start", p.startCheck)),
		route(get, "/practice/checks/:ref", p.check),
		route(post, "/practice/checks/:ref", p.answerCheck),
		route(get, "/quizzes/:assignment", p.quiz),
		route(post, "/quizzes/:assignment", p.startQuiz),
		of(p.attemptOwner, route(get, "/attempts/:attempt", p.attempt)),
		of(p.attemptOwner, route(get, "/attempts/:attempt/questions/:n", p.question)),
		of(p.attemptOwner, route(post, "/attempts/:attempt/questions/:n", p.saveAnswer)),
		of(p.attemptOwner, route(get, "/attempts/:attempt/review", p.review)),
		of(p.attemptOwner, route(post, "/attempts/:attempt/hand-in", p.handIn)),
		of(p.attemptOwner, route(get, "/attempts/:attempt/feedback", p.feedback)),
		of(p.attemptOwner, route(get, "/attempts/:attempt/disputes/:n", p.dispute)),
		of(p.attemptOwner, route(post, "/attempts/:attempt/disputes/:n", p.openDispute)),
		route(get, "/progress", p.progress),
		rated(&reportRate, route(get, "/progress/report.pdf", p.report)),
		route(get, "/certificates", p.certificates),
		of(p.certificateOwner, rated(&reportRate, route(get, "/certificates/:number/files/:format", p.certificateFile))),
		of(p.certificateOwner, rated(&reportRate, route(post, "/certificates/:number/top-up", p.topUp))),
	}
}
