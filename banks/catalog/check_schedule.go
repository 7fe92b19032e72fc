package catalog

import "fmt"

func scheduleChecks() family {
	return family{"schedule", checkSchedule, []CheckKind{
		{"unlocated", Warning, "a service includes an operation that no publication describes for some of its codes"},
		{"no-operations", Warning, "a service includes no operations"},
		{"service-overlap", Warning, "two rows of one service apply to the same vehicles and duty"},
	}}
}

func checkSchedule(k *checker) {
	t := k.t
	type place struct {
		class  Class
		unit   string
		number string
	}
	located := map[place][]int{} // publications
	units := map[string]bool{}
	for i := range t.Operations {
		if p, ok := k.c.pub[t.Operations[i].Publication]; ok {
			pub := &t.Publications[p]
			units[pub.KeyedBy] = true
			at := place{pub.Class, pub.KeyedBy, t.Operations[i].Number}
			located[at] = append(located[at], p)
		}
	}
	known := map[string]bool{}
	for i := range t.Operations {
		known[t.Operations[i].Number] = true
	}
	for i := range t.Schedule {
		s := &t.Schedule[i]
		u := k.unit(s.KeyedBy)
		codes := k.matched(u, s.AppliesTo)
		if len(s.Operations) == 0 {
			k.add("no-operations", "schedule", s.Origin, "operations", fmt.Sprintf("service %s includes no operations", s.Name), "fill them in", codes.count())
		}
		for _, number := range s.Operations {
			if !known[number] {
				continue // dangling says so
			}
			left := codes
			for unit := range units {
				for _, p := range located[place{s.Class, unit, number}] {
					if left.empty() || !k.spend(1) {
						break
					}
					left = left.minus(k.pubCodesIn(p, u))
				}
			}
			if left.empty() {
				continue
			}
			var names []string
			left.each(func(c int) { names = append(names, u.codes[c]) })
			k.add("unlocated", "schedule", s.Origin, "operations",
				fmt.Sprintf("service %s includes operation %s, but no publication of class %s describes it for %s %s", s.Name, number, s.Class, u.name, some(names)),
				"add the operation to such a publication, or give these codes a row of their own without it", left.count())
		}
	}
	k.serviceOverlaps()
}

// serviceOverlaps compares the rows of one service and duty.
func (k *checker) serviceOverlaps() {
	t := k.t
	type kind struct {
		name, unit, duty string
		class            Class
	}
	rows := map[kind][]int{}
	for i := range t.Schedule {
		s := &t.Schedule[i]
		at := kind{s.Name, s.KeyedBy, s.Duty, s.Class}
		codes := k.matched(k.unit(s.KeyedBy), s.AppliesTo)
		limits := regionOf(s.Effectivity)
		for _, j := range rows[at] {
			if !k.spend(1) {
				return
			}
			o := &t.Schedule[j]
			same := codes.and(k.matched(k.unit(o.KeyedBy), o.AppliesTo))
			if same.empty() || !limits.meets(regionOf(o.Effectivity)) || s.Name == "" {
				continue
			}
			both := limits.meet(regionOf(o.Effectivity))
			n := 0
			same.each(func(c int) {
				if both.meets(k.unit(s.KeyedBy).built[c].where) {
					n++
				}
			})
			if n > 0 {
				k.add("service-overlap", "schedule", s.Origin, "applies_to", fmt.Sprintf("two rows of service %s apply to the same vehicles", s.Name),
					"let their patterns, duties or limits differ, or join them; extra operations at intervals of their own need a name of their own", n*max(len(s.Operations), 1))
				break
			}
		}
		rows[at] = append(rows[at], i)
	}
}
