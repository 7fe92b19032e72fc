package paper_test

import (
	"fmt"
	"io"
	"time"

	"rightpage/quiz/paper"
)

// A form for two people, each with a booklet and an answer sheet, for a
// printer that prints on both sides.
func ExampleWriteRun() {
	people := []string{"T-014", "T-021"}
	booklets := func(yield func(paper.Booklet, error) bool) {
		for _, id := range people {
			b := paper.Booklet{
				Quiz: "AUT31", Variant: "B", PersonID: id,
				Title: "Finding the right page", TimeLimit: 45 * time.Minute,
				Questions: []paper.Question{{
					Number: 1, Stem: "Which engine is fitted?",
					Boxes: []paper.Box{{Kind: paper.Plate, Rows: []paper.Pair{{Label: "Model", Value: "K42-E"}, {Label: "Built", Value: "2027-05"}}}},
					Form:  paper.ChooseOne, Options: []string{"TD3-24", "TD3-27", "TD3-27T"},
				}},
			}
			if !yield(b, nil) {
				return
			}
		}
	}
	count, err := paper.WriteRun(io.Discard, booklets, paper.RunOptions{
		BookletOptions: paper.BookletOptions{Size: paper.A4, Duplex: true},
		Booklets:       true, Sheets: true,
		Created: time.Date(2031, 9, 1, 0, 0, 0, 0, time.UTC),
	})
	fmt.Println(count.People, "people,", count.Pages, "pages,", err)
	// Output: 2 people, 8 pages, <nil>
}
