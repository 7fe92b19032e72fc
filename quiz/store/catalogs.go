package store

import (
	"context"
	"crypto/sha256"
	"encoding/base32"
	"strings"
	"time"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// CatalogInfo is what can be said of a catalog without reading it.
type CatalogInfo struct {
	ID       string // of its content: see CatalogID
	Title    string
	Maker    string
	Revision string
	Issued   string // ISO 8601 date, as the catalog has it
	Added    time.Time
	By       string // ID of who added it
	InForce  bool   // questions are made of it; one catalog per title
	Since    time.Time
	Bytes    int64
}

// CatalogID is the ID of a catalog: the first 26 letters of the SHA-256 of its
// content in base 32 (RFC 4648), in lower case.
func CatalogID(content []byte) string {
	sum := sha256.Sum256(content)
	return strings.ToLower(base32.StdEncoding.EncodeToString(sum[:])[:26])
}

func catalogOf(r catalogRow) (CatalogInfo, error) {
	return CatalogInfo{ID: r.ID, Title: r.Title, Maker: r.Maker, Revision: r.Revision, Issued: r.Issued, Added: instant(r.Added), By: r.ByID,
		InForce: r.InForce, Since: instant(r.Since), Bytes: r.Bytes}, nil
}

// AddCatalog keeps the file of a catalog, as it was uploaded, under the title,
// maker, revision and day of issue that c says, and fills in the rest of c. A
// file that is there already stays as it is, and c is filled from it. It is
// not in force until PutInForce says so.
func (s *Store) AddCatalog(ctx context.Context, actor string, c *CatalogInfo, content []byte) error {
	if len(content) == 0 || strings.TrimSpace(c.Title) == "" {
		return &quiz.Error{Code: quiz.Invalid, Text: "the catalog has no title or no content", Mend: "give both"}
	}
	row := catalogRow{ID: CatalogID(content), Title: c.Title, Maker: c.Maker, Revision: c.Revision, Issued: c.Issued, Added: micros(s.now()), ByID: actor,
		Bytes: int64(len(content)), Content: content}
	var kept catalogRow
	err := s.write(ctx, "keep the catalog "+c.Title, func(tx *gorm.DB) error {
		added, err := createOnce(tx, &row)
		if err != nil {
			return err
		}
		if kept, err = find[catalogRow](tx.Omit("content"), "catalog", "id = ?", row.ID); err != nil || !added {
			return err
		}
		return appendAudit(tx, s.entry(actor, "catalog.add", "catalog/"+row.ID, map[string]any{"title": c.Title, "revision": c.Revision}))
	})
	if err != nil {
		return err
	}
	*c, err = catalogOf(kept)
	return err
}

// Catalogs lists the catalogs, the latest first.
func (s *Store) Catalogs(ctx context.Context) ([]CatalogInfo, error) {
	l, err := list(s.read(ctx).Omit("content").Order("added DESC, id"), catalogOf)
	return l, s.fail("list the catalogs", err)
}

// CatalogContent reads the file of a catalog.
func (s *Store) CatalogContent(ctx context.Context, id string) ([]byte, error) {
	row, err := find[catalogRow](s.read(ctx), "catalog", "id = ?", id)
	if err != nil {
		return nil, s.fail("read a catalog", err)
	}
	if CatalogID(row.Content) != id {
		return nil, &quiz.Error{Code: quiz.Internal, Text: "the stored catalog " + id + " was changed or damaged", Mend: "restore a backup"}
	}
	return row.Content, nil
}

// PutInForce puts a catalog in force, in place of any other of its title.
func (s *Store) PutInForce(ctx context.Context, actor, id string) error {
	return s.write(ctx, "put a catalog in force", func(tx *gorm.DB) error {
		row, err := find[catalogRow](tx.Omit("content"), "catalog", "id = ?", id)
		if err != nil {
			return err
		}
		// All of the title are locked, so that two at once leave one in force.
		var same []catalogRow
		if err := tx.Clauses(forUpdate).Omit("content").Where("title = ?", row.Title).Order("id").Find(&same).Error; err != nil {
			return err
		}
		before := ""
		for _, r := range same {
			if r.InForce {
				before = r.ID
			}
		}
		if before == id {
			return nil
		}
		if err := tx.Model(&catalogRow{}).Where("title = ? AND in_force = ?", row.Title, true).Update("in_force", false).Error; err != nil {
			return err
		}
		err = tx.Model(&catalogRow{}).Where("id = ?", id).Updates(map[string]any{"in_force": true, "since": micros(s.now())}).Error
		if err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "catalog.inforce", "catalog/"+id, map[string]any{"title": row.Title, "revision": row.Revision, "before": before}))
	})
}
