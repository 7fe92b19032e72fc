package banks

import "rightpage/banks/resolver"

// Kind is a kind of question. Kinds keep no state and register nowhere: the
// table of all kinds is in package kinds.
type Kind struct {
	Name  string          // fixed name, such as edition
	Title string          // in words
	Skill string          // the skill that it trains
	Slips []resolver.Slip // where its wrong options come from
	// Sites enumerates every place in the catalog at which the question can be
	// asked, so that coverage is known. The order must not depend on anything
	// but the catalog. Kinds that share a list get it by [Source.Sites].
	Sites func(*Source) Sites
	// Make writes the question for a site into m.Q and tells whether there is
	// one: a site at which the key is not unique, or not found, has none.
	Make func(m *Maker, s Site) bool
}
