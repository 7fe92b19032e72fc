package psychometrics

import "math"

// ItemStatistic describes one item by classical test theory.
type ItemStatistic struct {
	// Answered is the number of people who answered, Right how many of them
	// were right.
	Answered, Right int
	// P = Right / Answered, the classical difficulty (larger is easier).
	P float64
	// SD is the sample standard deviation of the answers, √(P(1−P) n/(n−1)).
	SD float64
	// ItemTotal is the correlation of the answer with the person's share right
	// of all items that the person answered, this one included.
	ItemTotal float64
	// ItemRest is the same with this item left out (corrected item-total
	// correlation), so that an item does not correlate with itself.
	ItemRest float64
	// AlphaWithout is Cronbach's alpha of the other items; see [Alpha].
	AlphaWithout float64
}

// ItemStatistics gives the classical statistics of every item (one per
// column). Correlations are product-moment over the people who answered the
// item, between the answer (0/1) and the share right of the items answered;
// where no answer is missing that is the correlation with the number right,
// the point-biserial. Source: Lord & Novick (1968), Statistical Theories of
// Mental Test Scores, ch. 15.
//
// An item that nobody answered has P = NaN; one that all or none got right has
// NaN correlations; people who answered nothing else do not enter ItemRest. An
// empty matrix gives an empty slice. Time and memory are linear in the number
// of cells where the data is complete; where answers are missing, AlphaWithout
// takes items² × people / 64.
func ItemStatistics(r Responses) []ItemStatistic {
	out := make([]ItemStatistic, r.items)
	total, rest := make([]moments, r.items), make([]moments, r.items)
	for v := range r.people {
		right, n := r.Score(v)
		if n == 0 {
			continue
		}
		share := float64(right) / float64(n)
		for i, x := range r.Row(v) {
			if x < 0 {
				continue
			}
			out[i].Answered++
			out[i].Right += int(x)
			total[i].add(float64(x), share)
			if n > 1 {
				rest[i].add(float64(x), float64(right-int(x))/float64(n-1))
			}
		}
	}
	c := covariances(r)
	for i := range out {
		s := &out[i]
		n := float64(s.Answered)
		s.P = float64(s.Right) / n
		s.SD = math.Sqrt(s.P * (1 - s.P) * n / (n - 1))
		s.ItemTotal, s.ItemRest = total[i].correlation(), rest[i].correlation()
		s.AlphaWithout = c.alphaWithout(i)
	}
	return out
}

// moments accumulates what a correlation needs in one pass, by the updating
// formulas of Welford (1962), which do not subtract large sums.
type moments struct {
	n, meanX, meanY, xx, yy, xy float64
}

func (m *moments) add(x, y float64) {
	m.n++
	dx, dy := x-m.meanX, y-m.meanY
	m.meanX += dx / m.n
	m.meanY += dy / m.n
	m.xx += dx * (x - m.meanX)
	m.yy += dy * (y - m.meanY)
	m.xy += dx * (y - m.meanY)
}

// correlation is NaN where either variable does not vary. Rounding leaves a
// constant share of answers with a variance of some 1e-30, hence the bound.
func (m *moments) correlation() float64 {
	const noise = 1e-20
	if m.n < 2 || m.xx < noise*m.n || m.yy < noise*m.n {
		return math.NaN()
	}
	return m.xy / math.Sqrt(m.xx*m.yy)
}
