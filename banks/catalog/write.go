package catalog

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// WriteFolder writes a catalog as a folder of CSV files and catalog.yaml, every
// table even if it is empty, in the order of the catalog: equal catalogs give
// equal bytes. The folder is made if need be. What could not be read back as
// it is, such as a semicolon within a value of a list, is an error, and then
// nothing is written.
func WriteFolder(dir string, c *Catalog) error {
	files, err := encodeFolder(c)
	if err != nil {
		return fmt.Errorf("writing a catalog: %w", err)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("writing a catalog: %w", err)
	}
	for _, f := range files {
		if err := writeFile(filepath.Join(dir, f.name), f.data); err != nil {
			return fmt.Errorf("writing a catalog: %w", err)
		}
	}
	return nil
}

type namedFile struct {
	name string
	data []byte
}

func encodeFolder(c *Catalog) ([]namedFile, error) {
	m, err := encodeMeta(c.meta)
	if err != nil {
		return nil, err
	}
	files := []namedFile{{SettingsFile, m}}
	for _, cd := range codecs() {
		var b bytes.Buffer
		if err := writeCSV(&b, cd, &c.t, c.meta.Limits); err != nil {
			return nil, err
		}
		files = append(files, namedFile{cd.table() + ".csv", b.Bytes()})
	}
	return files, nil
}

// writeFile puts a file in place whole or not at all.
func writeFile(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // fails, as it should, once renamed
	_, err = f.Write(data)
	if err == nil {
		err = f.Chmod(0o644)
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// WriteWorkbook writes a catalog as an .xlsx workbook with a sheet a table, and
// its settings beside it under the same name with .yaml. The cells are
// formatted as text, so that a spreadsheet program does not make dates and
// numbers of codes typed into it. Errors are those of [WriteFolder].
func WriteWorkbook(path string, c *Catalog) error {
	if !strings.EqualFold(filepath.Ext(path), ".xlsx") {
		return fmt.Errorf("writing a catalog: %s does not end in .xlsx; give it that ending", path)
	}
	m, err := encodeMeta(c.meta)
	if err != nil {
		return fmt.Errorf("writing a catalog: %w", err)
	}
	b, err := encodeWorkbook(c)
	if err != nil {
		return fmt.Errorf("writing a catalog: %w", err)
	}
	if err := writeFile(path, b); err != nil {
		return fmt.Errorf("writing a catalog: %w", err)
	}
	if err := writeFile(workbookSettings(path), m); err != nil {
		return fmt.Errorf("writing a catalog: %w", err)
	}
	return nil
}

// workbookSettings names the settings that belong to a workbook.
func workbookSettings(path string) string {
	return strings.TrimSuffix(path, filepath.Ext(path)) + ".yaml"
}
