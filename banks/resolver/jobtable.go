package resolver

// jobTable finds the procedures of a publication for a job. It is a hash table
// with linear probing, filled once and never more than half full: a lookup
// touches one line of memory where a map or a search would touch several.
type jobTable struct {
	slots []jobSlot
	rows  []int32
}

type jobSlot struct {
	pub, job int32 // pub -1: empty
	from, to int32 // rows of procedures
}

// jobRow is a procedure with the publication and job that it belongs to.
type jobRow struct{ pub, job, row int32 }

// newJobTable builds a table of a list that is sorted by publication, job, row.
func newJobTable(list []jobRow) jobTable {
	distinct := 0
	for i := range list {
		if i == 0 || list[i].pub != list[i-1].pub || list[i].job != list[i-1].job {
			distinct++
		}
	}
	size := 2
	for size < 2*distinct {
		size *= 2
	}
	t := jobTable{slots: make([]jobSlot, size), rows: make([]int32, 0, len(list))}
	for i := range t.slots {
		t.slots[i].pub = -1
	}
	for i := 0; i < len(list); {
		pub, job := list[i].pub, list[i].job
		from := int32(len(t.rows))
		for i < len(list) && list[i].pub == pub && list[i].job == job {
			t.rows = append(t.rows, list[i].row)
			i++
		}
		s := t.slot(pub, job)
		*s = jobSlot{pub, job, from, int32(len(t.rows))}
	}
	return t
}

// slot is the place of a key, or the empty one where it would be.
func (t *jobTable) slot(pub, job int32) *jobSlot {
	h := uint64(uint32(pub))<<32 | uint64(uint32(job))
	h ^= h >> 29
	h *= 0xbf58476d1ce4e5b9
	h ^= h >> 32
	mask := uint64(len(t.slots) - 1)
	for {
		s := &t.slots[h&mask]
		if s.pub == -1 || s.pub == pub && s.job == job {
			return s
		}
		h++
	}
}

// find lists the procedures of a publication for a job; none for job -1.
func (t *jobTable) find(pub, job int32) []int32 {
	s := t.slot(pub, job)
	if s.pub == -1 {
		return nil
	}
	return t.rows[s.from:s.to]
}
