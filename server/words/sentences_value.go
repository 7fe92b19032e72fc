package words

import (
	"fmt"

	"rightpage/grading/psychometrics"
)

// value writes a value of a statement.
func (p *Printer) value(v psychometrics.Value) string { return fmt.Sprint(v) }
