// Command generate makes the demonstration catalogs under testdata from the
// vocabularies beside it. Run it at the root of the module:
//
//	go run ./testdata/generate
//
// It is deterministic: running it again changes no byte. With -out it writes
// somewhere else than testdata.
//
// The vocabularies are written by hand: groups, components, operations, values,
// test chapters, trouble codes. The program multiplies them out over the models,
// units and editions that a maker of this kind would have, lays them out on
// pages, and then applies the changes of each later revision. Every maker, name,
// number and code in them is invented; see testdata/README.md.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"rightpage/banks/catalog"
)

func main() {
	out := flag.String("out", "testdata", "folder to write into")
	flag.Parse()
	if flag.NArg() > 0 {
		fmt.Fprintln(os.Stderr, "generate: takes no arguments; see -help")
		os.Exit(2)
	}
	if err := run(*out); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

// run writes every catalog below out.
func run(out string) error {
	made, err := catalogs()
	if err != nil {
		return err
	}
	for _, m := range made {
		if err := catalog.WriteFolder(filepath.Join(out, filepath.FromSlash(m.folder)), catalog.New(m.meta, m.tables)); err != nil {
			return fmt.Errorf("%s: %w", m.folder, err)
		}
	}
	return nil
}

// made is one catalog and the folder that it belongs in.
type made struct {
	folder string
	meta   catalog.Meta
	tables catalog.Tables
}

// catalogs makes all sound catalogs.
func catalogs() ([]made, error) {
	var all []made
	for _, make := range []func() ([]made, error){tarnfell, quillan} {
		m, err := make()
		if err != nil {
			return nil, err
		}
		all = append(all, m...)
	}
	return all, nil
}
