package credential

import (
	"encoding/json"
	"fmt"

	"github.com/gowebpki/jcs"
)

// maxCredential bounds a credential's JSON: ours have some 3 kB.
const maxCredential = 1 << 20

// maxDepth bounds the nesting of a credential's JSON.
const maxDepth = 64

// canonical gives the JSON Canonicalization Scheme form (RFC 8785) of a JSON
// text. Duplicate names, lone surrogates and text that is not UTF-8 are
// errors.
func canonical(data []byte) ([]byte, error) {
	if len(data) > maxCredential {
		return nil, fmt.Errorf("larger than %d bytes", maxCredential)
	}
	if nesting(data) > maxDepth {
		return nil, fmt.Errorf("nested deeper than %d levels", maxDepth)
	}
	out, err := jcs.Transform(data)
	if err != nil {
		return nil, fmt.Errorf("not I-JSON: %w", err)
	}
	return out, nil
}

// nesting is an upper bound of the depth of arrays and objects, counted
// before anything recurses.
func nesting(data []byte) int {
	depth, deepest, quoted := 0, 0, false
	for i := 0; i < len(data); i++ {
		switch c := data[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{' || c == '[':
			depth++
			deepest = max(deepest, depth)
		case c == '}' || c == ']':
			depth--
		}
	}
	return deepest
}

// canonicalOf marshals a value and gives its canonical form.
func canonicalOf(v any) ([]byte, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return canonical(data)
}
