package qti_test

import (
	"bytes"
	"io"
	"testing"

	"rightpage/banks/qti"
)

// BenchmarkExport and BenchmarkImport handle the same 600 questions.
func BenchmarkExport(b *testing.B) {
	bank := demoBank(b)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		if err := qti.Export(io.Discard, "", each(bank)); err != nil {
			b.Fatal(err)
		}
		n += len(bank)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "questions/s")
}

func BenchmarkImport(b *testing.B) {
	pkg := export(b, demoBank(b)...)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		got, err := qti.Import(bytes.NewReader(pkg), int64(len(pkg)), qti.ImportOptions{})
		if err != nil {
			b.Fatal(err)
		}
		n += len(got.Questions)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "questions/s")
}
