//go:build cgo

package resolver_test

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"rightpage/banks/catalog"
	"rightpage/banks/catalog/invent"
	"rightpage/banks/resolver"
)

const benchProcedures = 100_000

// large is the catalog of the benchmarks, made once for all of them.
var large = sync.OnceValue(func() *resolver.Resolver { return resolver.New(invent.Catalog(benchProcedures)) })

// chases draws queries that have an answer: a model, a build date, a job.
func chases(r *resolver.Resolver, n int) []resolver.Query {
	rng := rand.New(rand.NewPCG(1, 2))
	t := r.Catalog().Tables()
	var out []resolver.Query
	var a resolver.Answer
	for len(out) < n {
		m := &t.Models[rng.IntN(len(t.Models))]
		first, last := m.Range.From.First(), m.Range.Through.Last()
		built := (first + catalog.Day(rng.IntN(int(last-first)))).Date()
		built.Day = 0
		p := &t.Procedures[rng.IntN(len(t.Procedures))]
		q := resolver.Query{Vehicle: resolver.Vehicle{Model: m.Code, Built: built}, Text: p.Job}
		if r.Resolve(&q, resolver.Break{}, &a); a.Status == resolver.Found {
			out = append(out, q)
		}
	}
	return out
}

// BenchmarkChase resolves whole chases over a catalog of 100,000 procedures.
func BenchmarkChase(b *testing.B) {
	r := large()
	qs := chases(r, 4096)
	var a resolver.Answer
	b.ReportAllocs()
	b.ResetTimer()
	for i := 0; b.Loop(); i++ {
		r.Resolve(&qs[i%len(qs)], resolver.Break{}, &a)
		if a.Status != resolver.Found {
			b.Fatal("a chase that was found before is not found now")
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "chases/s")
}

// BenchmarkChaseSQLite asks the same chases of an indexed SQLite file by a
// prepared query, the file in the page cache, and checks that both agree.
func BenchmarkChaseSQLite(b *testing.B) {
	r := large()
	qs := chases(r, 4096)
	db := loadSQLite(b, r.Catalog())
	stmt, err := db.Prepare(chaseSQL)
	if err != nil {
		b.Fatal(err)
	}
	var a resolver.Answer
	ask := func(q *resolver.Query) (string, error) {
		action, component, _ := strings.Cut(q.Text, " ")
		var id string
		var bulletin, amends sql.NullString
		err := stmt.QueryRow(component, q.Vehicle.Model, int(q.Vehicle.Built.First()), int(q.Vehicle.Built.Last()), action, "repair").Scan(&id, &bulletin, &amends)
		return id + bulletin.String, err
	}
	for i := range 500 {
		q := &qs[i]
		r.Resolve(q, resolver.Break{}, &a)
		want := r.Catalog().Tables().Procedures[a.Items[0].Row].ID
		if n := a.Items[0].Bulletin; n >= 0 {
			want += r.Catalog().Tables().Bulletins[n].ID
		}
		if got, err := ask(q); err != nil || got != want {
			b.Fatalf("%+v: SQLite finds %q (%v), the resolver %q", q, got, err, want)
		}
	}
	b.ResetTimer()
	for i := 0; b.Loop(); i++ {
		if _, err := ask(&qs[i%len(qs)]); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "chases/s")
}

// chaseSQL applies every rule that the resolver applies to such a chase: group,
// keying unit, class, pattern, limits, supersession, replacement, and the
// bulletins that replace or amend.
const chaseSQL = `
select p.id,
  (select b.id from amends x join bulletins b on b.id = x.bulletin
   where x.procedure = p.id and x.replaces and b.f <= ?3 and b.t >= ?4 order by b.issued desc, b.id desc limit 1),
  (select group_concat(b.id) from amends x join bulletins b on b.id = x.bulletin
   where x.procedure = p.id and not x.replaces and b.f <= ?3 and b.t >= ?4)
from components c
join groups g on g.code = c.grp
join cards m on m.model = ?2 and m.f <= ?3 and m.t >= ?4
join pub_code pc on pc.unit = g.keyed and pc.code = case g.keyed when 'engine' then m.engine else m.model end and pc.grp = g.code
join publications u on u.id = pc.pub and u.class = ?6 and u.f <= ?3 and u.t >= ?4
join procedures p on p.pub = u.id and p.component = c.term and p.action = ?5 and p.f <= ?3 and p.t >= ?4
where c.term = ?1
and not exists (select 1 from supersedes s join publications v on v.id = s.newer
  join pub_code vc on vc.unit = pc.unit and vc.code = pc.code and vc.grp = pc.grp and vc.pub = v.id
  where s.older = u.id and v.class = u.class and v.f <= ?3 and v.t >= ?4)
and not exists (select 1 from replaces r join procedures n on n.id = r.newer
  where r.older = p.id and n.f <= ?3 and n.t >= ?4)`

// loadSQLite writes the catalog to a file with the indexes that the query can
// use.
func loadSQLite(b *testing.B, c *catalog.Catalog) *sql.DB {
	b.Helper()
	g, err := gorm.Open(sqlite.Open(filepath.Join(b.TempDir(), "catalog.db")), &gorm.Config{Logger: logger.Discard})
	if err != nil {
		b.Fatal(err)
	}
	db, err := g.DB()
	if err != nil {
		b.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	b.Cleanup(func() { db.Close() })
	exec := func(q string, args ...any) {
		if _, err := db.Exec(q, args...); err != nil {
			b.Fatal(fmt.Errorf("%s: %w", q, err))
		}
	}
	for _, s := range []string{
		"create table components (term text primary key, grp text) without rowid",
		"create table groups (code text primary key, keyed text) without rowid",
		"create table cards (model text, engine text, f int, t int)",
		"create table publications (id text primary key, class text, f int, t int) without rowid",
		"create table pub_code (unit text, code text, grp text, pub text, primary key (unit, code, grp, pub)) without rowid",
		"create table procedures (id text primary key, action text, component text, pub text, f int, t int) without rowid",
		"create table supersedes (older text, newer text, primary key (older, newer)) without rowid",
		"create table replaces (older text, newer text, primary key (older, newer)) without rowid",
		"create table bulletins (id text primary key, issued text, f int, t int) without rowid",
		"create table amends (procedure text, bulletin text, replaces int, primary key (procedure, bulletin)) without rowid",
	} {
		exec(s)
	}
	t := c.Tables()
	exec("begin")
	codes := map[string]map[string]bool{"model": {}, "engine": {}}
	for _, m := range t.Models {
		codes["model"][m.Code], codes["engine"][m.Engine] = true, true
		exec("insert into cards values (?,?,?,?)", m.Code, m.Engine, int(m.Range.From.First()), int(m.Range.Through.Last()))
	}
	for _, x := range t.Components {
		exec("insert into components values (?,?)", x.Term, x.Group)
	}
	for _, x := range t.Groups {
		exec("insert into groups values (?,?)", x.Code, x.KeyedBy)
	}
	span := func(e catalog.Effectivity) (int, int) {
		if len(e) == 0 {
			return int(catalog.MinDay), int(catalog.MaxDay)
		}
		return int(e[0].From.First()), int(e[0].Through.Last())
	}
	for _, p := range t.Publications {
		f, th := span(p.Effectivity)
		exec("insert into publications values (?,?,?,?)", p.ID, string(p.Class), f, th)
		for _, old := range p.Supersedes {
			exec("insert into supersedes values (?,?)", old, p.ID)
		}
		for code := range codes[p.KeyedBy] {
			if !p.AppliesTo.Match(code) {
				continue
			}
			for _, g := range p.Groups {
				exec("insert into pub_code values (?,?,?,?)", p.KeyedBy, code, g, p.ID)
			}
		}
	}
	for _, p := range t.Procedures {
		f, th := span(p.Effectivity)
		exec("insert into procedures values (?,?,?,?,?,?)", p.ID, p.Action, p.Component, p.Publication, f, th)
		for _, old := range p.Replaces {
			exec("insert into replaces values (?,?)", old, p.ID)
		}
	}
	for _, x := range t.Bulletins {
		f, th := span(x.Effectivity)
		exec("insert into bulletins values (?,?,?,?)", x.ID, x.Issued.String(), f, th)
		for _, a := range x.Amends {
			exec("insert into amends values (?,?,0)", a.Key, x.ID)
		}
		for _, a := range x.Replaces {
			exec("insert into amends values (?,?,1)", a.Key, x.ID)
		}
	}
	exec("commit")
	exec("create index cards_model on cards (model, f)")
	exec("create index procedures_lookup on procedures (pub, component, action)")
	exec("analyze")
	return db
}
