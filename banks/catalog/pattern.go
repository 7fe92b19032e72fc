package catalog

import "strings"

// Fold brings a code to the form in which codes are compared: upper case,
// without spaces, hyphens, dots and slashes.
func Fold(code string) string {
	clean := true
	for i := 0; i < len(code); i++ {
		if c := code[i]; c == ' ' || c == '-' || c == '.' || c == '/' || 'a' <= c && c <= 'z' || c >= 0x80 {
			clean = false
			break
		}
	}
	if clean {
		return code
	}
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '-', '.', '/', '\u00a0', '\u2010', '\u2011', '\u2013':
			return -1
		}
		return r
	}, strings.ToUpper(code))
}

// Pattern is an applies-to cell: alternatives separated by semicolons, * for
// any run of characters, ? for one, a leading ! for an exception. Exceptions
// win. The empty pattern, and one of exceptions alone, match every other code.
type Pattern string

// Match tells whether the pattern covers a code.
func (p Pattern) Match(code string) bool {
	if strings.TrimSpace(string(p)) == "" {
		return true
	}
	code = Fold(code)
	positive, hit := false, false
	for alt := range strings.SplitSeq(string(p), ";") {
		alt = strings.TrimSpace(alt)
		if alt == "" {
			continue
		}
		if rest, ok := strings.CutPrefix(alt, "!"); ok {
			if glob(Fold(rest), code) {
				return false
			}
			continue
		}
		positive = true
		hit = hit || glob(Fold(alt), code)
	}
	return hit || !positive
}

// glob matches * and ? without backtracking over more than the last star, so
// that its time is at most the product of the lengths.
func glob(pat, s string) bool {
	star, mark, i, j := -1, 0, 0, 0
	for i < len(s) {
		switch {
		case j < len(pat) && pat[j] == '*':
			star, mark = j, i
			j++
		case j < len(pat) && (pat[j] == '?' || pat[j] == s[i]):
			i++
			j++
		case star >= 0:
			mark++
			i, j = mark, star+1
		default:
			return false
		}
	}
	for j < len(pat) && pat[j] == '*' {
		j++
	}
	return j == len(pat)
}
