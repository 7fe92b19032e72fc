package catalog

// Range is one stretch of build dates and of serials in which a record
// applies. Both must hold where both are given; open sides are zero.
type Range struct {
	From    Date    `json:"from,omitzero"`
	Through Date    `json:"through,omitzero"`
	Serials Serials `json:"serials,omitzero"`
}

// Days is the interval of build dates of r: from the first day of From through
// the last day of Through.
func (r Range) Days() Days { return Days{r.From.First(), r.Through.Last()} }

// Effectivity says which vehicles a record applies to: those in any of its
// ranges. An empty Effectivity applies to all.
type Effectivity []Range

// Fit is the answer to "does this record apply to this vehicle?" when the
// build date or serial may be known only as an interval.
type Fit uint8

// The three answers, from worst to best.
const (
	Outside Fit = iota // it does not apply
	Partly             // it applies to a part of what the vehicle may be
	Within             // it applies
)

// String names the fit in words.
func (f Fit) String() string { return [...]string{"outside", "partly", "within"}[f] }

// FitDays compares an interval of possible build dates with a range of them.
func FitDays(known, limit Days) Fit {
	switch {
	case known.From >= limit.From && known.Through <= limit.Through:
		return Within
	case known.Through < limit.From || known.From > limit.Through:
		return Outside
	}
	return Partly
}

// FitSerials compares an interval of possible serials with a range of them.
func FitSerials(known, limit Serials) Fit {
	klo, khi := known.bounds()
	llo, lhi := limit.bounds()
	switch {
	case klo >= llo && khi <= lhi:
		return Within
	case khi < llo || klo > lhi:
		return Outside
	}
	return Partly
}

// Fit compares a range with what is known of a vehicle: the worse of the two
// comparisons counts, since both limits must hold.
func (r Range) Fit(built Days, serial Serials) Fit {
	return min(FitDays(built, r.Days()), FitSerials(serial, r.Serials))
}

// Fit is the best fit of any range, or of ranges by date alone, or by serial
// alone, that together leave no gap in what is known. An empty Effectivity fits
// all.
func (e Effectivity) Fit(built Days, serial Serials) Fit {
	if len(e) == 0 {
		return Within
	}
	return FitRanges(len(e), func(i int) (Days, Serials) { return e[i].Days(), e[i].Serials }, built, serial)
}

// FitRanges is [Effectivity.Fit] for n ranges, of which at gives each as days
// and serials.
func FitRanges(n int, at func(i int) (Days, Serials), built Days, serial Serials) Fit {
	best := Outside
	for i := range n {
		d, s := at(i)
		best = max(best, min(FitDays(built, d), FitSerials(serial, s)))
	}
	if best == Partly && n > 1 && (joinDays(n, at, built) || joinSerials(n, at, serial)) {
		return Within
	}
	return best
}

// joinDays tells whether the ranges by date alone cover every day that is
// known: each step goes on from the day after the last one covered.
func joinDays(n int, at func(i int) (Days, Serials), known Days) bool {
	for next := known.From; ; {
		reached := next
		for i := range n {
			d, s := at(i)
			if s == (Serials{}) && d.From <= next && d.Through >= next {
				if d.Through >= known.Through {
					return true
				}
				reached = max(reached, d.Through+1)
			}
		}
		if reached == next {
			return false
		}
		next = reached
	}
}

// joinSerials is the same for ranges by serial alone.
func joinSerials(n int, at func(i int) (Days, Serials), known Serials) bool {
	lo, hi := known.bounds()
	for next := lo; ; {
		reached := next
		for i := range n {
			d, s := at(i)
			from, through := s.bounds()
			if d == AnyDay() && from <= next && through >= next {
				if through >= hi {
					return true
				}
				reached = max(reached, through+1)
			}
		}
		if reached == next {
			return false
		}
		next = reached
	}
}
