package banks

import (
	"strconv"
	"strings"
)

func formatNumber(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

func joinTexts[T any](list []T, text func(T) string, sep string) string {
	var b strings.Builder
	for i := range list {
		if i > 0 {
			b.WriteString(sep)
		}
		b.WriteString(text(list[i]))
	}
	return b.String()
}
