package banks

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// Verifier computes questions again from a catalog. It serves one goroutine.
type Verifier struct {
	m     *Maker
	kinds map[string]*Kind
	sites map[string]Sites // of the kinds that were met
}

// NewVerifier prepares to verify questions of the kinds given.
func NewVerifier(s *Source, kinds []Kind) *Verifier {
	v := &Verifier{m: NewMaker(s, StartingWeights()), kinds: map[string]*Kind{}, sites: map[string]Sites{}}
	for i := range kinds {
		v.kinds[kinds[i].Name] = &kinds[i]
	}
	return v
}

// Verify makes a question again at its own site with its own seed, and tells
// how it differs from the one in hand: then the catalog has changed since, or
// the question was not made from it.
func (v *Verifier) Verify(q *Question) error {
	k, ok := v.kinds[q.Kind]
	if !ok {
		return fmt.Errorf("there is no kind %q", q.Kind)
	}
	if q.Catalog != v.m.Meta.Title || q.Revision != v.m.Meta.Revision {
		return fmt.Errorf("it was made from %s, revision %s; the catalog at hand is %s, revision %s", q.Catalog, q.Revision, v.m.Meta.Title, v.m.Meta.Revision)
	}
	// A site that is not the kind's own may lead anywhere: a bank file can be
	// forged, hash and all.
	if !v.has(k, q.Made.Site) {
		return fmt.Errorf("the catalog has no place at which it can be asked")
	}
	v.m.Options = q.Made.Options
	if !v.m.Make(k, q.Made.Site, q.Made.Seed) {
		return fmt.Errorf("the catalog has no such question any more")
	}
	v.m.Q.Logit = q.Logit // the weights may have been fitted since
	want, err := Encode(&v.m.Q)
	if err != nil {
		return err
	}
	got, err := Encode(q)
	if err != nil {
		return err
	}
	if !bytes.Equal(want, got) {
		if v.m.Q.KeyText() != q.KeyText() {
			return fmt.Errorf("its key is %q; the catalog gives %q", q.KeyText(), v.m.Q.KeyText())
		}
		return fmt.Errorf("its text or wrong options are not those that the catalog gives")
	}
	return distinct(q)
}

// has tells whether a site is one of a kind's.
func (v *Verifier) has(k *Kind, site Site) bool {
	all, ok := v.sites[k.Name]
	if !ok {
		all = k.Sites(v.m.Source)
		v.sites[k.Name] = all
	}
	for _, list := range [...][]Site{all.Inside, all.Limits} {
		if _, found := slices.BinarySearchFunc(list, site, compareSites); found {
			return true
		}
	}
	return false
}

// distinct checks that the question is sound in itself and that a right answer
// is no wrong one as well.
func distinct(q *Question) error {
	if err := q.Check(); err != nil {
		return err
	}
	for i := range q.Steps {
		if err := apart(q.Steps[i].Slipped, q.Steps[i].Accept); err != nil {
			return err
		}
	}
	return apart(q.Slipped, q.Key.Accept)
}

// apart tells which typed answer is both accepted and a slip's.
func apart(slipped []Slipped, accept []string) error {
	for _, s := range slipped {
		for _, a := range accept {
			if strings.EqualFold(s.Value, a) {
				return fmt.Errorf("%q is both right and wrong", a)
			}
		}
	}
	return nil
}
