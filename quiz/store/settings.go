package store

import (
	"context"

	"gorm.io/gorm"

	"rightpage/quiz"
)

// Settings reads the settings; quiz.DefaultSettings, with Version 0, if none
// were saved yet.
func (s *Store) Settings(ctx context.Context) (quiz.Settings, error) {
	var rows []settingsRow
	if err := s.read(ctx).Where("id = 1").Find(&rows).Error; err != nil {
		return quiz.Settings{}, s.fail("read the settings", err)
	}
	x := quiz.DefaultSettings() // for what a later program adds
	if len(rows) == 0 {
		return x, nil
	}
	x.Version = int(rows[0].Version)
	return x, parse(rows[0].Content, &x, "settings")
}

// SaveSettings saves the settings and sets Version.
func (s *Store) SaveSettings(ctx context.Context, actor string, x *quiz.Settings) error {
	if err := x.Check(); err != nil {
		return err
	}
	row := settingsRow{ID: 1, Content: text(*x), Version: int64(x.Version) + 1}
	err := s.write(ctx, "save the settings", func(tx *gorm.DB) error {
		if err := put(tx, &row, x.Version, "the settings"); err != nil {
			return err
		}
		return appendAudit(tx, s.entry(actor, "settings.save", "settings", map[string]any{"version": row.Version}))
	})
	if err == nil {
		x.Version++
	}
	return err
}
