// Package testdata holds the demonstration catalog, so that the program can
// show itself anywhere. Makers, people, codes and numbers in it are invented.
package testdata

import (
	"embed"
	"io/fs"
)

//go:embed tarnfell/2026-1 orders/tarnfell.yaml
var demo embed.FS

// DemoCatalog is the path of the demonstration catalog in [Demo].
const DemoCatalog = "tarnfell/2026-1"

// Demo gives the demonstration catalog and its sample repair orders.
func Demo() fs.FS { return demo }
