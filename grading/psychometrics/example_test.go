package psychometrics_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"text/tabwriter"

	"rightpage/grading/psychometrics"
)

func ExampleSummarize() {
	file := `person,group of a pump,edition for June,next step
Ada,1,1,0
Bo,1,0,0
Cy,1,0,1
Dag,0,1,0
Eli,1,1,
Fay,1,0,0
`
	r, err := psychometrics.ReadScores(strings.NewReader(file))
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := psychometrics.Summarize(r)
	if err != nil {
		fmt.Println(err)
		return
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	for _, row := range s.ItemTable() {
		// item, answered, right, p and difficulty with its standard error
		fmt.Fprintln(w, strings.Join([]string{row[0], row[1], row[2], row[3], row[7], row[8]}, "\t"))
	}
	w.Flush()
	// Output:
	// item              answered  right  p      difficulty  SE
	// group of a pump   6         5      0.833  -1.14       0.78
	// edition for June  6         3      0.500  0.18        0.71
	// next step         5         1      0.200  0.96        0.80
}

func ExampleReadScores_mistakes() {
	_, err := psychometrics.ReadScores(strings.NewReader("person,q1,q2\nAda,1,yes\nBo,2,0\n"))
	fmt.Println(err)
	// Output:
	// row 2, column 3, "q2": "yes" is not an answer; write 1 for right, 0 for wrong, or nothing if the person did not see the question
	// row 3, column 2, "q1": "2" is not an answer; write 1 for right, 0 for wrong, or nothing if the person did not see the question
}

func ExampleAngoff() {
	unknown := math.NaN()
	cut, err := psychometrics.Angoff(psychometrics.JudgePage{
		Questions: []psychometrics.JudgedQuestion{{ID: "q1", Observed: unknown}, {ID: "q2", Observed: unknown}, {ID: "q3", Observed: unknown}},
		Judges:    []string{"Ada", "Bo"},
		Percent:   [][]float64{{80, 60, 40}, {90, 60, 60}},
	}, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("pass with %.2f of 3 right (± %.2f); talk about question %d first\n", cut.Right, cut.SE, cut.Discuss[0]+1)
	// Output: pass with 1.95 of 3 right (± 0.15); talk about question 3 first
}
