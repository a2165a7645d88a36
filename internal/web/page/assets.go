package page

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"
)

//go:generate go run ./bundle

//go:embed assets
var embedded embed.FS

// ErrNoAssets is a program that was built without its styles and scripts.
var ErrNoAssets = errors.New("this program was built without its pages' styles and scripts: run make assets, then build it again")

// built gives the bundled files and a short name of their state.
func built() (fs.FS, string, error) {
	files, err := fs.Sub(embedded, "assets")
	if err != nil {
		return nil, "", err
	}
	if _, err := fs.Stat(files, "antiphon.css"); err != nil {
		return nil, "", ErrNoAssets
	}
	sum := sha256.New()
	err = fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(files, name)
		sum.Write([]byte(name))
		sum.Write(b)
		return err
	})
	return files, hex.EncodeToString(sum.Sum(nil))[:12], err
}

var typeOf = map[string]string{
	".css":   "text/css; charset=utf-8",
	".js":    "text/javascript; charset=utf-8",
	".svg":   "image/svg+xml",
	".png":   "image/png",
	".woff2": "font/woff2",
	".json":  "application/json",
}

// asset serves a bundled file. Its address names its version, so it may be kept for ever.
func (f *Frame) asset(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	b, err := fs.ReadFile(f.assets, name)
	kind := typeOf[path.Ext(name)]
	if err != nil || kind == "" {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", kind)
	if r.URL.Query().Get("v") == f.version || strings.HasPrefix(name, "chunk-") {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		w.Header().Set("Cache-Control", "no-cache")
	}
	w.Header().Set("ETag", `"`+f.version+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(b))
}
