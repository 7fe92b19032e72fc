package catalog

import "slices"

// How many lookups a record answers, by table. See Check for what a lookup is.

func (k *checker) serviceLookups(i int) int {
	r := &k.t.Schedule[i]
	return k.matched(k.unit(r.KeyedBy), r.AppliesTo).count() * max(len(r.Operations), 1)
}

func (k *checker) operationLookups(i int) int {
	if p, ok := k.c.pub[k.t.Operations[i].Publication]; ok {
		return k.pubCodes(p).count()
	}
	return 0
}

func (k *checker) specLookups(i int) int {
	r := &k.t.Specifications[i]
	return k.rowCodes(r.KeyedBy, r.AppliesTo, r.Publication).count()
}

func (k *checker) guideLookups(i int) int {
	r := &k.t.Guide[i]
	return k.rowCodes(r.KeyedBy, r.AppliesTo, r.Publication).count()
}

func (k *checker) troubleLookups(i int) int {
	r := &k.t.TroubleCodes[i]
	return k.rowCodes(r.KeyedBy, r.AppliesTo, r.Publication).count()
}

func (k *checker) bulletinLookups(i int) int {
	r := &k.t.Bulletins[i]
	return k.matched(k.unit(r.KeyedBy), r.AppliesTo).count() * max(len(r.Amends)+len(r.Replaces), 1)
}

// groupLookups counts the lookups that ask for a component of some groups.
func (k *checker) groupLookups(groups ...int) int {
	if k.termsOf == nil {
		k.termsOf = map[int][]string{}
		for i, g := range k.compGrp {
			k.termsOf[g] = append(k.termsOf[g], k.t.Components[i].Term)
		}
	}
	var terms []string
	for _, g := range groups {
		terms = append(terms, k.termsOf[g]...)
	}
	return k.componentLookups(terms...)
}

// testLookups counts the lookups whose answer leads to the chapter of a step.
func (k *checker) testLookups(i int) int {
	r := &k.t.Tests[i]
	return k.chapterLookups(r.Publication, r.Chapter)
}

// chapter is a chapter of the tests table.
type chapter struct {
	sides   map[string][]string // step → sides for which it is given, "" for both
	lookups int                 // that lead there
	led     bool                // some guide row, trouble code or other chapter leads there
}

func (k *checker) chapterOf(pub, name string) *chapter {
	k.indexChapters()
	return k.chapters[[2]string{pub, name}]
}

func (k *checker) chapterLookups(pub, name string) int {
	if c := k.chapterOf(pub, name); c != nil {
		return c.lookups
	}
	return 0
}

func (k *checker) indexChapters() {
	if k.chapters != nil {
		return
	}
	k.chapters = map[[2]string]*chapter{}
	for i := range k.t.Tests {
		s := &k.t.Tests[i]
		at := [2]string{s.Publication, s.Chapter}
		if k.chapters[at] == nil {
			k.chapters[at] = &chapter{sides: map[string][]string{}}
		}
		c := k.chapters[at]
		if !slices.Contains(c.sides[s.Step], s.Side) {
			c.sides[s.Step] = append(c.sides[s.Step], s.Side)
		}
	}
	lead := func(pub, name string, n int) {
		if c := k.chapters[[2]string{pub, name}]; c != nil {
			c.lookups += n
			c.led = true
		}
	}
	for i := range k.t.Guide {
		lead(k.t.Guide[i].Publication, k.t.Guide[i].Section, k.guideLookups(i))
	}
	for i := range k.t.TroubleCodes {
		lead(k.t.TroubleCodes[i].Publication, k.t.TroubleCodes[i].Location.Section, k.troubleLookups(i))
	}
	for i := range k.t.Tests {
		if s := &k.t.Tests[i]; s.FailChapter != "" && s.FailChapter != s.Chapter {
			lead(s.Publication, s.FailChapter, 0)
		}
	}
}
