package store

import "testing"

func TestPools(t *testing.T) {
	onEach(t, func(t *testing.T, d database) {
		s := d.migrated(t, newClock())
		if _, err := s.People(t.Context()); err != nil {
			t.Fatal(err)
		}
		pools := s.Pools()
		want := 2
		if d.postgres {
			want = 1
		}
		if len(pools) != want || pools["write"].MaxOpenConnections == 0 || pools["write"].OpenConnections == 0 {
			t.Errorf("%+v", pools)
		}
	})
}
