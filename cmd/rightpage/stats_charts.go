package main

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"

	"rightpage/grading/psychometrics"
	"rightpage/grading/psychometrics/chart"
)

// curveGroups is into how many groups of like ability people are put whose
// answers are compared with the curve of a question: at most six, of which each
// has answers enough to show a share.
func curveGroups(answers int) int { return min(max(answers/psychometrics.MinShareAnswers, 1), 6) }

// charts draws the map of people and questions, and for each question its curve
// with what was observed, in both themes, with a page that shows them all. It
// gives the number of charts.
func charts(ctx context.Context, folder string, r psychometrics.Responses, s *psychometrics.Summary) (int, error) {
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return 0, err
	}
	theta := make([]float64, len(s.PersonRows))
	for v, p := range s.PersonRows {
		theta[v] = float64(p.Ability)
	}
	difficulty := make([]float64, len(s.ItemRows))
	for i, x := range s.ItemRows {
		difficulty[i] = float64(x.Difficulty)
	}
	var page chartsPage
	draw := func(name string, make func(chart.Options) chart.Chart) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		x := chartFiles{Light: name + ".svg", Dark: name + "-dark.svg"}
		for file, theme := range map[string]chart.Theme{x.Light: chart.Light, x.Dark: chart.Dark} {
			c := make(chart.Options{Theme: theme})
			svg, err := c.SVG()
			if err != nil {
				return err
			}
			x.Alt = c.Alt
			if err := os.WriteFile(filepath.Join(folder, file), svg, 0o666); err != nil {
				return err
			}
		}
		page.Charts = append(page.Charts, x)
		return nil
	}
	if err := draw("map", func(o chart.Options) chart.Chart { return chart.PersonQuestionMap(theta, difficulty, o) }); err != nil {
		return 0, err
	}
	for i, x := range s.ItemRows {
		err := draw(fmt.Sprintf("question-%03d", i+1), func(o chart.Options) chart.Chart {
			return chart.QuestionCurve(x.Item, difficulty[i], float64(x.SE), chart.CurvePoints(r, i, theta, difficulty[i], curveGroups(x.Answered)), o)
		})
		if err != nil {
			return 0, err
		}
	}
	var b bytes.Buffer
	if err := chartsTemplate().Execute(&b, page); err != nil {
		return 0, err
	}
	return len(page.Charts), writeFile(ctx, filepath.Join(folder, "charts.html"), io.Discard, func(w io.Writer) error {
		_, err := w.Write(b.Bytes())
		return err
	})
}

type chartsPage struct{ Charts []chartFiles }

type chartFiles struct{ Light, Dark, Alt string }

// chartsTemplate is the page of the charts. The browser chooses the theme.
func chartsTemplate() *template.Template {
	return template.Must(template.New("charts").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<meta name="color-scheme" content="light dark">
<title>Questions and people</title>
<style>body { font: 1rem/1.5 system-ui, sans-serif; max-width: 50rem; margin: 1rem auto; padding: 0 1rem } figure { margin: 0 0 2rem } img { max-width: 100%; height: auto }</style>
</head>
<body>
<h1>Questions and people</h1>
{{range .Charts}}<figure>
<picture><source srcset="{{.Dark}}" media="(prefers-color-scheme: dark)"><img src="{{.Light}}" alt="{{.Alt}}"></picture>
<figcaption><details><summary>In words</summary><p>{{.Alt}}</p></details></figcaption>
</figure>
{{end}}</body>
</html>
`))
}
