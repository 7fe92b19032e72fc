package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"mime"
	"net/http"
	"path"

	"github.com/labstack/echo/v4"
)

//go:embed pages/*.html assets
var files embed.FS

// asset is a file that pages refer to. Its address holds a hash of its content,
// so that browsers may keep it for good and still see a new one at once.
type asset struct {
	path, media string
	data        []byte
}

// The style sheet is one file made of two: the classless base and our own.
const styleSheet = "rightpage.css"

func readAssets() (map[string]asset, error) {
	all := map[string]asset{}
	entries, err := fs.ReadDir(files, "assets")
	if err != nil {
		return nil, err
	}
	add := func(name string, data []byte) {
		sum := sha256.Sum256(data)
		media := mime.TypeByExtension(path.Ext(name))
		if path.Ext(name) == ".js" {
			media = "text/javascript; charset=utf-8"
		}
		all[name] = asset{"/assets/" + hex.EncodeToString(sum[:6]) + "/" + name, media, data}
	}
	var styles []byte
	for _, e := range entries { // in order of name: base.css, frame.css, then look-AREA.css
		data, err := fs.ReadFile(files, "assets/"+e.Name())
		if err != nil {
			return nil, err
		}
		if path.Ext(e.Name()) == ".css" {
			styles = append(append(styles, data...), '\n')
			continue
		}
		add(e.Name(), data)
	}
	add(styleSheet, styles)
	return all, nil
}

// Assets gives the routes of the files that pages refer to.
func (a *App) Assets() []Route {
	return []Route{{Method: http.MethodGet, Path: "/assets/:hash/:name", Access: Access{Public: true}, Token: true,
		Handle: func(c *Context) error {
			f, ok := a.assets[c.Param("name")]
			if !ok || f.path != "/assets/"+c.Param("hash")+"/"+c.Param("name") {
				return echo.ErrNotFound
			}
			c.Response().Header().Set(echo.HeaderCacheControl, "public, max-age=31536000, immutable")
			return c.Blob(http.StatusOK, f.media, f.data)
		}}}
}
