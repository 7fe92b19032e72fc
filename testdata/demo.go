// Package testdata holds the demonstration catalog, in its
// revisions, so that the program can
// show itself anywhere. Makers, people, codes and numbers in it are invented.
package testdata

import (
	"embed"
	"io/fs"
)

//go:embed tarnfell/2025-1 tarnfell/2025-2 tarnfell/2026-1 orders/tarnfell.yaml
var demo embed.FS

// DemoCatalog is the path of the latest revision in [Demo].
const DemoCatalog = "tarnfell/2026-1"

// Demo gives the demonstration catalog, a folder a revision, and its sample repair orders.
func Demo() fs.FS { return demo }
