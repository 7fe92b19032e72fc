package words

import (
	"testing"

	"rightpage/grading/psychometrics"
)

func BenchmarkMessage(b *testing.B) {
	p := printers(b)["de"]
	for b.Loop() {
		p.T("layout.menu")
	}
}

func BenchmarkMessageWithCount(b *testing.B) {
	p := printers(b)["de"]
	for b.Loop() {
		p.T("faults.title", "Count", 3)
	}
}

func BenchmarkSentence(b *testing.B) {
	p := printers(b)["de"]
	s := psychometrics.SayShare(17, 20)
	for b.Loop() {
		p.Render(s)
	}
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		if _, err := Load(); err != nil {
			b.Fatal(err)
		}
	}
}
