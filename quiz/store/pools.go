package store

import "database/sql"

// Pools gives the state of the pools of connections, by what they are for: on
// PostgreSQL one is for both.
func (s *Store) Pools() map[string]sql.DBStats {
	all := map[string]sql.DBStats{}
	if db, err := s.w.DB(); err == nil {
		all["write"] = db.Stats()
	}
	if s.r != s.w {
		if db, err := s.r.DB(); err == nil {
			all["read"] = db.Stats()
		}
	}
	return all
}
