package store

import (
	"context"
	"crypto/rand"
	"encoding/base64"

	"gorm.io/gorm"
)

// secretRowID is the row of the table of settings that holds the secret.
const secretRowID = 2

// Secret gives 32 random bytes that all servers on the database share and that
// are made when first asked for: with them one server can tell that another, or
// itself before a restart, made what a browser brings back.
func (s *Store) Secret(ctx context.Context) ([]byte, error) {
	var content string
	err := s.write(ctx, "read the shared secret", func(tx *gorm.DB) error {
		fresh := make([]byte, 32)
		rand.Read(fresh) // never fails: crypto/rand
		if _, err := createOnce(tx, &settingsRow{ID: secretRowID, Content: base64.StdEncoding.EncodeToString(fresh), Version: 1}); err != nil {
			return err
		}
		row, err := find[settingsRow](tx, "secret", "id = ?", secretRowID)
		content = row.Content
		return err
	})
	if err != nil {
		return nil, err
	}
	secret, err := base64.StdEncoding.DecodeString(content)
	return secret, s.fail("read the shared secret", err)
}
