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

// Fit is the best fit of any range; an empty Effectivity fits all.
func (e Effectivity) Fit(built Days, serial Serials) Fit {
	if len(e) == 0 {
		return Within
	}
	best := Outside
	for _, r := range e {
		best = max(best, r.Fit(built, serial))
	}
	return best
}
