// Package library gives the catalogs that an organisation keeps, ready for
// use: read, checked, with their resolver and their bank of exercises.
//
//	l := library.New(s, library.Options{})
//	entries, err := l.InForce(ctx)          // one per title
//	bank, err := entries[0].Bank(ctx)       // made once per process
//
// A catalog comes in as an upload, which is judged before it is kept:
//
//	up, err := library.ReadUpload("tractors.zip", data)
//	if up.Catalog == nil { … show up.Report … }
//	err = s.AddCatalog(ctx, actor, &up.Info, up.Content)
//	err = s.PutInForce(ctx, actor, up.Info.ID)
//
// Entries and banks do not change and may be shared by any number of
// goroutines. Questions of a bank hold their keys: they are not to leave the
// server as they are.
package library

import (
	"cmp"
	"context"
	"strings"

	lru "github.com/hashicorp/golang-lru/v2"
	"golang.org/x/sync/singleflight"

	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
	"rightpage/quiz"
	"rightpage/quiz/store"
)

// Options are what may be chosen about a library. The zero value will do.
type Options struct {
	BankSize int    // questions of a bank; 0: 4000
	Seed     uint64 // of the banks
	Keep     int    // catalogs held in memory; 0: 8
}

// Library gives catalogs of a store. It is safe for concurrent use.
type Library struct {
	s       *store.Store
	o       Options
	entries *lru.Cache[string, *Entry]
	loading singleflight.Group
}

// New makes a library of the catalogs in a store.
func New(s *store.Store, o Options) *Library {
	o.BankSize, o.Keep = cmp.Or(max(o.BankSize, 0), 4000), cmp.Or(max(o.Keep, 0), 8)
	entries, err := lru.New[string, *Entry](o.Keep)
	if err != nil {
		panic(err) // of a size that is not above zero
	}
	return &Library{s: s, o: o, entries: entries}
}

// Entry is a catalog ready for use.
type Entry struct {
	// Info is the catalog as it was known when the entry was given.
	Info     store.CatalogInfo
	Catalog  *catalog.Catalog
	Resolver *resolver.Resolver
	Report   catalog.Report // of reading and checking it

	*content
}

// content is what all copies of an entry share.
type content struct {
	size   int
	seed   uint64
	making singleflight.Group
	bank   held[*Bank]
}

// InForce lists the catalogs in force, one per title, in order of title.
func (l *Library) InForce(ctx context.Context) ([]*Entry, error) {
	all, err := l.s.Catalogs(ctx)
	if err != nil {
		return nil, err
	}
	var out []*Entry
	for _, info := range all {
		if !info.InForce {
			continue
		}
		e, err := l.entry(ctx, info)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	sortEntries(out)
	return out, nil
}

// InForceOf gives the catalog in force of a title. It is NotFound if there is
// none.
func (l *Library) InForceOf(ctx context.Context, title string) (*Entry, error) {
	all, err := l.s.Catalogs(ctx)
	if err != nil {
		return nil, err
	}
	for _, info := range all {
		if info.InForce && info.Title == title {
			return l.entry(ctx, info)
		}
	}
	return nil, &quiz.Error{Code: quiz.NotFound, Text: "no revision of the catalog " + title + " is in force", Mend: "put one in force"}
}

// Entry gives a catalog by its ID, whether in force or not.
func (l *Library) Entry(ctx context.Context, id string) (*Entry, error) {
	all, err := l.s.Catalogs(ctx)
	if err != nil {
		return nil, err
	}
	for _, info := range all {
		if info.ID == id {
			return l.entry(ctx, info)
		}
	}
	return nil, quiz.Errorf(quiz.NotFound, "there is no such catalog")
}

// entry gives the entry of a catalog with what is known of it now. Of those
// who ask for one that is not in memory, one reads it and all wait; reading
// goes on when the one who asked first gives up.
func (l *Library) entry(ctx context.Context, info store.CatalogInfo) (*Entry, error) {
	e, ok := l.entries.Get(info.ID)
	if !ok {
		load := context.WithoutCancel(ctx)
		done := l.loading.DoChan(info.ID, func() (any, error) { return l.load(load, info) })
		select {
		case <-ctx.Done():
			return nil, &quiz.Error{Code: quiz.Unavailable, Text: "read the catalog " + info.Title, Err: ctx.Err()}
		case r := <-done:
			if r.Err != nil {
				return nil, r.Err
			}
			e = r.Val.(*Entry)
		}
	}
	now := *e
	now.Info = info
	return &now, nil
}

func (l *Library) load(ctx context.Context, info store.CatalogInfo) (*Entry, error) {
	data, err := l.s.CatalogContent(ctx, info.ID)
	if err != nil {
		return nil, err
	}
	up, err := ReadUpload(strings.ReplaceAll(info.Title, "/", " ")+".zip", data)
	if err != nil || up.Catalog == nil {
		if err == nil {
			err = up.Report.Err()
		}
		return nil, &quiz.Error{Code: quiz.Internal, Text: "the stored catalog " + info.Title + " " + info.Revision + " cannot be read", Err: err,
			Mend: "upload it again"}
	}
	e := up.entry(info, l.o)
	l.entries.Add(info.ID, e)
	return e, nil
}

// Candidate makes an entry of an upload that is not kept yet, to see what it would
// change; nil if it cannot be used.
func (l *Library) Candidate(up Upload) *Entry {
	if up.Catalog == nil {
		return nil
	}
	return up.entry(up.Info, l.o)
}

func (up Upload) entry(info store.CatalogInfo, o Options) *Entry {
	return &Entry{Info: info, Catalog: up.Catalog, Resolver: resolver.New(up.Catalog), Report: up.Report,
		content: &content{size: o.BankSize, seed: o.Seed}}
}
