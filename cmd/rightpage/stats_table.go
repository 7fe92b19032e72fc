package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"rightpage/grading/psychometrics"
)

// mostPeople is up to how many people the table of statistics lists.
const mostPeople = 60

// figure prints a number, or a dash where there is none.
func figure(n psychometrics.Number, decimals int) string {
	f := float64(n)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return "–"
	}
	s := strconv.FormatFloat(f, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-") // no negative zero
	}
	return strings.Replace(s, "-", "−", 1)
}

func printSummary(w io.Writer, s *psychometrics.Summary) {
	fmt.Fprintf(w, "%s, %s, %s, %d not seen\n", counted(s.People, "person"), counted(s.Items, "question"), counted(s.Answers, "answer"), s.Missing)
	fmt.Fprintf(w, "score        mean %s, SD %s, median %s, from %s to %s\n",
		figure(s.Mean, 2), figure(s.SD, 2), figure(s.Median, 1), figure(s.Lowest, 0), figure(s.Highest, 0))
	fmt.Fprintf(w, "reliability  alpha (KR-20) %s, %s %% interval %s to %s; standard error of measurement %s\n",
		figure(s.Alpha, 4), figure(s.Level*100, 0), figure(s.AlphaLow, 4), figure(s.AlphaHigh, 4), figure(s.SEM, 2))
	andersen := "no Andersen test"
	if s.AndersenDF > 0 {
		andersen = fmt.Sprintf("Andersen LR %s on %s, p %s", figure(s.AndersenLR, 2), degrees(s.AndersenDF), figure(s.AndersenP, 3))
	}
	fmt.Fprintf(w, "Rasch        conditional log-likelihood %s; %s\n", figure(s.LogLikelihood, 2), andersen)

	wrap := newWrapper(w)
	for _, line := range trustInWords(s) {
		fmt.Fprintln(wrap, "in words     "+line)
	}
	_ = wrap.Close()

	right := func(t table.Writer, from, to int) {
		var configs []table.ColumnConfig
		for i := from; i <= to; i++ {
			configs = append(configs, column(i, 14, text.AlignRight))
		}
		t.SetColumnConfigs(configs)
	}
	t := newTable(w)
	t.AppendHeader(table.Row{"question", "n", "right", "between", "item-rest", "sorts", "difficulty", "SE", "infit", "outfit"})
	right(t, 2, 10)
	for _, i := range s.ItemRows {
		t.AppendRow(table.Row{i.Item, i.Answered, figure(i.P, 3), shareText(i.Right, i.Answered), figure(i.ItemRest, 4), sortsText(i), figure(i.Difficulty, 4), figure(i.SE, 4), figure(i.Infit, 2), figure(i.Outfit, 2)})
	}
	t.Render()
	if len(s.PersonRows) <= mostPeople {
		p := newTable(w)
		p.AppendHeader(table.Row{"person", "answered", "right", "ability", "SE", "on an average question"})
		right(p, 2, 5)
		for _, r := range s.PersonRows {
			p.AppendRow(table.Row{r.Person, r.Answered, r.Right, figure(r.Ability, 2), figure(r.SE, 2), chanceText(r)})
		}
		p.Render()
	} else {
		fmt.Fprintf(w, "%s: --format json lists them.\n", counted(len(s.PersonRows), "person"))
	}
	fmt.Fprintln(w, "Difficulties and abilities are in logits: at equal ability and difficulty half the answers are right.")
	wrap = newWrapper(w)
	fmt.Fprintf(wrap, "n: answers. Right: the share of these. Between: the share right among all who might have answered, 19 times out of 20. Sorts: whether people who do better on the rest do better on the question. "+
		"On an average question: the chance to answer one of the average difficulty of these, 9 times out of 10 within the range. %s\n", thresholdText())
	for _, n := range s.Notes {
		fmt.Fprintln(wrap, "note  "+n)
	}
	_ = wrap.Close()
}

func degrees(n int) string {
	if n == 1 {
		return "1 degree of freedom"
	}
	return fmt.Sprintf("%d degrees of freedom", n)
}

func writeItemCSV(w io.Writer, s psychometrics.Summary) error {
	c := csv.NewWriter(w)
	_ = c.Write([]string{"question", "answered", "right", "p", "item_total", "item_rest", "alpha_without", "difficulty", "se", "infit", "outfit"})
	n := func(x psychometrics.Number) string {
		if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
			return ""
		}
		return strconv.FormatFloat(float64(x), 'g', 8, 64)
	}
	for _, i := range s.ItemRows {
		_ = c.Write([]string{formulaSafe(i.Item), strconv.Itoa(i.Answered), strconv.Itoa(i.Right), n(i.P), n(i.ItemTotal), n(i.ItemRest), n(i.AlphaWithout), n(i.Difficulty), n(i.SE), n(i.Infit), n(i.Outfit)})
	}
	c.Flush()
	return c.Error()
}

// formulaSafe keeps a spreadsheet from taking text for a formula (OWASP: CSV
// injection).
func formulaSafe(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// statsDocument is what stats prints as JSON. A figure that cannot be computed
// is null.
type statsDocument struct {
	People                int                  `json:"people"`
	Questions             int                  `json:"questions"`
	Answers               int                  `json:"answers"`
	Missing               int                  `json:"missing"`
	Complete              int                  `json:"complete"`
	Mean                  psychometrics.Number `json:"mean"`
	SD                    psychometrics.Number `json:"sd"`
	Median                psychometrics.Number `json:"median"`
	Lowest                psychometrics.Number `json:"lowest"`
	Highest               psychometrics.Number `json:"highest"`
	Alpha                 psychometrics.Number `json:"alpha"`
	AlphaLow              psychometrics.Number `json:"alpha_low"`
	AlphaHigh             psychometrics.Number `json:"alpha_high"`
	Level                 psychometrics.Number `json:"level"`
	SEM                   psychometrics.Number `json:"sem"`
	SeparationReliability psychometrics.Number `json:"separation_reliability"`
	Informative           int                  `json:"informative"`
	LogLikelihood         psychometrics.Number `json:"conditional_log_likelihood"`
	AndersenLR            psychometrics.Number `json:"andersen_lr"`
	AndersenDF            int                  `json:"andersen_df"`
	AndersenP             psychometrics.Number `json:"andersen_p"`
	QuestionRows          []questionStatistics `json:"question_rows"`
	PersonRows            []personStatistics   `json:"person_rows"`
	Notes                 []string             `json:"notes"`
	InWords               []string             `json:"in_words"`
}

type questionStatistics struct {
	Question     string               `json:"question"`
	Answered     int                  `json:"answered"`
	Right        int                  `json:"right"`
	P            psychometrics.Number `json:"p"`
	PLow         psychometrics.Number `json:"p_low"`
	PHigh        psychometrics.Number `json:"p_high"`
	ItemTotal    psychometrics.Number `json:"item_total"`
	ItemRest     psychometrics.Number `json:"item_rest"`
	AlphaWithout psychometrics.Number `json:"alpha_without"`
	Difficulty   psychometrics.Number `json:"difficulty"`
	SE           psychometrics.Number `json:"se"`
	Infit        psychometrics.Number `json:"infit"`
	InfitZ       psychometrics.Number `json:"infit_z"`
	Outfit       psychometrics.Number `json:"outfit"`
	OutfitZ      psychometrics.Number `json:"outfit_z"`
	InWords      string               `json:"in_words"`
}

type personStatistics struct {
	Person   string               `json:"person"`
	Answered int                  `json:"answered"`
	Right    int                  `json:"right"`
	Percent  psychometrics.Number `json:"percent"`
	Ability  psychometrics.Number `json:"ability"`
	SE       psychometrics.Number `json:"se"`
	Infit    psychometrics.Number `json:"infit"`
	Outfit   psychometrics.Number `json:"outfit"`
	InWords  string               `json:"in_words"`
}

func statsDocumentOf(s *psychometrics.Summary) statsDocument {
	doc := statsDocument{
		People: s.People, Questions: s.Items, Answers: s.Answers, Missing: s.Missing, Complete: s.Complete,
		Mean: s.Mean, SD: s.SD, Median: s.Median, Lowest: s.Lowest, Highest: s.Highest,
		Alpha: s.Alpha, AlphaLow: s.AlphaLow, AlphaHigh: s.AlphaHigh, Level: s.Level, SEM: s.SEM, SeparationReliability: s.Separation,
		Informative: s.Informative, LogLikelihood: s.LogLikelihood, AndersenLR: s.AndersenLR, AndersenDF: s.AndersenDF, AndersenP: s.AndersenP,
		QuestionRows: []questionStatistics{}, PersonRows: []personStatistics{}, Notes: s.Notes, InWords: trustInWords(s),
	}
	for _, i := range s.ItemRows {
		low, high := psychometrics.WilsonInterval(i.Right, i.Answered)
		doc.QuestionRows = append(doc.QuestionRows, questionStatistics{
			Question: i.Item, Answered: i.Answered, Right: i.Right, P: i.P, PLow: psychometrics.Number(low), PHigh: psychometrics.Number(high), ItemTotal: i.ItemTotal, ItemRest: i.ItemRest, AlphaWithout: i.AlphaWithout,
			Difficulty: i.Difficulty, SE: i.SE, Infit: i.Infit, InfitZ: i.InfitZ, Outfit: i.Outfit, OutfitZ: i.OutfitZ,
			InWords: english(psychometrics.SayCorrelation(float64(i.ItemRest), i.Answered)),
		})
	}
	for _, p := range s.PersonRows {
		doc.PersonRows = append(doc.PersonRows, personStatistics{
			Person: p.Person, Answered: p.Answered, Right: p.Right, Percent: p.Percent, Ability: p.Ability, SE: p.SE, Infit: p.Infit, Outfit: p.Outfit,
			InWords: english(sayPerson(p)),
		})
	}
	return doc
}
