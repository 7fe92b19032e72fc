package marks

import (
	"bytes"
	"errors"
	"math"
	"net/http"
	"slices"
	"strings"

	"rightpage/banks"
	"rightpage/grading/psychometrics"
	"rightpage/quiz"
	"rightpage/quiz/marking"
	"rightpage/server/web"
)

// maxJudged bounds the file of judges' figures.
const maxJudged = 1 << 20

// confidence of the interval of a cut score.
const confidence = 0.95

// judgesPage is the page on which a cut score follows from judges' figures.
type judgesPage struct {
	head
	Variants []string
	Variant  string
	Cut      float64 // of the quiz as it is
	Faults   map[string]string
	Wrong    []string // what is wrong with the file
	File     string
	Names    string
	Score    *psychometrics.CutScore
	Judges   []judgeRow
	Discuss  []discussRow
	Of       int
	People   int // graded on the variant
	Passed   int // of these, as it is
	Would    int // and by the cut of the judges
}

type judgeRow struct {
	Name string
	psychometrics.JudgeFigure
}

type discussRow struct {
	Place string
	psychometrics.JudgedFigure
}

// Alone tells whether one judge alone gave figures.
func (p judgesPage) Alone() bool { return p.Score != nil && math.IsNaN(p.Score.SE) }

// Finite tells whether there is a number.
func (p judgesPage) Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func (p *Pages) judgesOf(c *web.Context) (judgesPage, *marking.Form, int, error) {
	h, err := p.head(c, "statistics")
	if err != nil {
		return judgesPage{}, nil, 0, err
	}
	form, err := p.marker.Form(c.Ctx(), h.Assignment.Form)
	if err != nil {
		return judgesPage{}, nil, 0, err
	}
	page := judgesPage{head: h, Cut: form.Blueprint.Cut}
	at := 0
	for i, v := range form.Variants {
		page.Variants = append(page.Variants, v.Name)
		if v.Name == c.FormValue("variant") {
			at = i
		}
	}
	page.Variant, page.Of = page.Variants[at], len(form.Variants[at].Questions)
	return page, form, at, nil
}

func (p *Pages) judges(c *web.Context) error {
	page, _, _, err := p.judgesOf(c)
	if err != nil {
		return err
	}
	return c.Page(p.set, "marks-judges", page)
}

// mostJudges bounds the columns of a judges' page.
const mostJudges = 30

// judgesPage is the CSV that judges fill in.
func (p *Pages) judgesPage(c *web.Context) error {
	page, form, at, err := p.judgesOf(c)
	if err != nil {
		return err
	}
	var out psychometrics.JudgePage
	observed := map[string]float64{}
	if c.QueryParam("observed") != "" {
		st, err := p.marker.Statistics(c.Ctx(), page.Assignment.ID)
		if err != nil {
			return err
		}
		for i, q := range form.Questions() {
			if known(st.Items[i].P) {
				observed[q.ID] = 100 * float64(st.Items[i].P)
			}
		}
	}
	for i, q := range form.Variants[at].Questions {
		x := psychometrics.JudgedQuestion{ID: itoa(i + 1), Text: judgeText(q.Stem, q.Order), Observed: math.NaN()}
		if o, ok := observed[q.ID]; ok {
			x.Observed = o
		}
		out.Questions = append(out.Questions, x)
	}
	for _, name := range strings.FieldsFunc(c.QueryParam("names"), func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		if name = strings.TrimSpace(name); name != "" && len(out.Judges) < mostJudges && !slices.Contains(out.Judges, name) {
			out.Judges = append(out.Judges, name)
		}
	}
	var b bytes.Buffer
	if err := psychometrics.WriteJudgePage(&b, out); err != nil {
		return err
	}
	return c.File(web.FileName("judges", page.Assignment.Title, page.Variant)+".csv", "text/csv; charset=utf-8", append([]byte("\ufeff"), b.Bytes()...))
}

// uploadJudges computes the cut score from the figures of judges. Nothing is
// kept: the quiz keeps its own cut score.
func (p *Pages) uploadJudges(c *web.Context) error {
	page, _, at, err := p.judgesOf(c)
	if err != nil {
		return err
	}
	f := c.Form()
	page.Faults = f.Faults
	file, err := f.File("file", true, maxJudged)
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		f.Fault("file", "marks.judges.large", "Most", maxJudged>>20)
	} else if err != nil {
		return err
	}
	if !f.OK() {
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-judges", page)
	}
	page.File = cleanName(file.Name)
	read, err := psychometrics.ReadJudgePage(bytes.NewReader(bytes.TrimPrefix(file.Data, []byte("\ufeff"))))
	var score psychometrics.CutScore
	if err == nil {
		err = sameQuestions(read, page.Of)
	}
	if err == nil {
		score, err = psychometrics.Angoff(read, confidence)
	}
	if err != nil {
		f.Fault("file", "marks.judges.unreadable")
		page.Wrong = strings.Split(err.Error(), "\n")
		page.Wrong = page.Wrong[:min(len(page.Wrong), 20)]
		return c.PageStatus(p.set, http.StatusUnprocessableEntity, "marks-judges", page)
	}
	page.Score = &score
	for i, j := range score.Judges {
		page.Judges = append(page.Judges, judgeRow{read.Judges[i], j})
	}
	for _, i := range score.Discuss[:min(len(score.Discuss), 5)] {
		if score.Questions[i].SD > 0 {
			page.Discuss = append(page.Discuss, discussRow{read.Questions[i].ID, score.Questions[i]})
		}
	}
	attempts, err := p.store.AttemptsAt(c.Ctx(), page.Assignment.ID)
	if err != nil {
		return err
	}
	for _, a := range attempts {
		if a.State != quiz.Graded || a.Variant != at {
			continue
		}
		page.People++
		if a.Result.Passed {
			page.Passed++
		}
		if a.Result.Of > 0 && 100*a.Result.Points/a.Result.Of >= score.Percent-1e-9 {
			page.Would++
		}
	}
	return c.Page(p.set, "marks-judges", page)
}

// sameQuestions reports a file that is not of the questions 1 to n.
func sameQuestions(read psychometrics.JudgePage, n int) error {
	seen := map[string]bool{}
	for _, q := range read.Questions {
		seen[strings.TrimSpace(q.ID)] = true
	}
	for i := 1; i <= n; i++ {
		if !seen[itoa(i)] {
			return &quiz.Error{Code: quiz.Invalid, Text: "there is no row for question " + itoa(i), Mend: "use the page that was taken from here, for this variant"}
		}
	}
	if len(read.Questions) != n {
		return &quiz.Error{Code: quiz.Invalid, Text: "there are " + itoa(len(read.Questions)) + " rows for " + itoa(n) + " questions", Mend: "use the page that was taken from here, for this variant"}
	}
	return nil
}

// judgeText is a question as a judge reads it: the repair order and the stem.
func judgeText(stem string, order []banks.Line) string {
	var parts []string
	for _, l := range order {
		parts = append(parts, l.Label+": "+l.Value)
	}
	return strings.Join(append(parts, stem), "; ")
}
