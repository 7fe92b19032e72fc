// Package kinds holds the kinds of question, one file each. [All] is the one
// table that lists them; adding a kind means writing its file and adding its
// line.
package kinds

import "rightpage/banks"

// All lists the kinds of question in a fixed order.
func All() []banks.Kind {
	return []banks.Kind{
		jobClass(),
		readCode(),
		factoryCode(),
		fitted(),
		groupOfComponent(),
		publication(),
		edition(),
		location(),
		due(),
		specification(),
		guide(),
		nextStep(),
		troubleCode(),
		latest(),
		chase(),
	}
}

// Find gives the kind of a name.
func Find(name string) (banks.Kind, bool) {
	for _, k := range All() {
		if k.Name == name {
			return k, true
		}
	}
	return banks.Kind{}, false
}

// Equal gives every kind the same share of a bank.
func Equal() []banks.Share {
	all := All()
	out := make([]banks.Share, len(all))
	for i := range all {
		out[i] = banks.Share{Kind: &all[i], Weight: 1}
	}
	return out
}
