package qti

import (
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/banks/resolver"
)

// Namespaces and fixed names of QTI 3.0.
const (
	itemSpace     = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0"
	itemSchema    = "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_asiv3p0_v1p0.xsd"
	packageSpace  = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"
	packageSchema = "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd"
	metaSpace     = "http://www.imsglobal.org/xsd/imsqti_metadata_v3p0"
	metaSchema    = "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_metadatav3p0_v1p0.xsd"
	lomSpace      = "http://ltsc.ieee.org/xsd/LOM"
	lomSchema     = "https://purl.imsglobal.org/spec/md/v1p3/schema/xsd/imsmd_loose_v1p3p2.xsd"
	instanceSpace = "http://www.w3.org/2001/XMLSchema-instance"

	manifestName  = "imsmanifest.xml"
	itemType      = "imsqti_item_xmlv3p0"
	extensionType = "webcontent"
)

// Classes by which [Import] finds the parts of an item's body again.
const (
	orderClass   = "rightpage-order"
	stemClass    = "rightpage-stem"
	askClass     = "rightpage-ask"
	unitClass    = "rightpage-unit"
	cautionClass = "rightpage-cautions"
)

// Outcome variables. SCORE and MAXSCORE are reserved by the specification.
const (
	scoreOutcome    = "SCORE"
	maxScoreOutcome = "MAXSCORE"
	feedbackOutcome = "FEEDBACK"
	solutionOutcome = "SOLUTION"
	solutionShown   = "TRACE"
)

// numbered is a response or outcome of a step, or the plain name where there is
// one alone.
func numbered(name string, i, of int) string {
	if of == 1 {
		return name
	}
	return name + strconv.Itoa(i+1)
}

// choiceName is the identifier of an option.
func choiceName(i int) string { return banks.Letter(i) }

// choiceIndex reads what choiceName writes.
func choiceIndex(s string) (int, bool) {
	if len(s) != 1 || s[0] < 'A' || s[0] > 'Z' {
		return 0, false
	}
	return int(s[0] - 'A'), true
}

// slipName is the identifier of the feedback about a slip.
func slipName(s resolver.Slip) string {
	return "SLIP_" + strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '_'
	}, s.String())
}

func number(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }
