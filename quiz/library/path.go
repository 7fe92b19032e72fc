package library

import (
	"os"
	"path/filepath"
	"strings"

	"rightpage/banks/catalog"
)

// ReadPath reads a catalog from this machine: a folder of CSV files with its
// catalog.yaml, or a workbook with its settings beside it (catalog.Read). The
// limits of uploads hold here, too.
func ReadPath(name string) (Upload, error) {
	info, err := os.Stat(name)
	if err != nil {
		return Upload{}, err
	}
	if !info.IsDir() {
		data, err := os.ReadFile(name)
		if err != nil {
			return Upload{}, err
		}
		for _, settings := range []string{strings.TrimSuffix(name, filepath.Ext(name)) + ".yaml", filepath.Join(filepath.Dir(name), catalog.SettingsFile)} {
			if text, err := os.ReadFile(settings); err == nil {
				return ReadWorkbook(filepath.Base(name), data, text)
			} else if !os.IsNotExist(err) {
				return Upload{}, err
			}
		}
		return ReadWorkbook(filepath.Base(name), data, nil)
	}
	entries, err := os.ReadDir(name)
	if err != nil {
		return Upload{}, err
	}
	files := map[string][]byte{}
	for _, e := range entries {
		if !e.Type().IsRegular() || !ofCatalog(e.Name()) {
			continue
		}
		if files[e.Name()], err = os.ReadFile(filepath.Join(name, e.Name())); err != nil {
			return Upload{}, err
		}
	}
	return read(files, nil)
}
