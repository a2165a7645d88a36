// Command bundle builds what the pages load: each *.ts file of a web package becomes assets/NAME.js, and
// tokens.css, base.css and the *.css files of the web packages become assets/antiphon.css. A script whose
// name begins with _ is only imported by others. `go generate` runs it in the folder of package page.
package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

func main() {
	if err := bundle(); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}

func bundle() error {
	if err := empty("assets"); err != nil {
		return err
	}
	scripts, err := filepath.Glob("../*/*.ts")
	if err != nil {
		return err
	}
	scripts = slices.DeleteFunc(scripts, func(f string) bool {
		name := filepath.Base(f)
		return strings.HasPrefix(name, "_") || strings.HasSuffix(name, ".d.ts")
	})
	var entries []api.EntryPoint
	for _, f := range scripts {
		entries = append(entries, api.EntryPoint{InputPath: f, OutputPath: strings.TrimSuffix(filepath.Base(f), ".ts")})
	}
	common := api.BuildOptions{
		Outdir: "assets", Bundle: true, Write: true, Target: api.ES2022, Charset: api.CharsetUTF8,
		MinifyWhitespace: true, MinifySyntax: true, MinifyIdentifiers: true,
		LegalComments: api.LegalCommentsNone,
		NodePaths:     []string{"../../../scripts/web/node_modules"},
	}
	js := common
	js.EntryPointsAdvanced = entries
	js.Format = api.FormatESModule
	js.Splitting = true
	js.ChunkNames = "chunk-[hash]"
	if err := errorOf(api.Build(js)); err != nil {
		return err
	}
	sheets, err := filepath.Glob("../*/*.css")
	if err != nil {
		return err
	}
	first := []string{"../page/tokens.css", "../page/base.css"}
	sheets = append(first, slices.DeleteFunc(sheets, func(f string) bool { return slices.Contains(first, f) })...)
	var all strings.Builder
	for _, f := range sheets {
		fmt.Fprintf(&all, "@import %q;\n", f)
	}
	css := common
	css.Stdin = &api.StdinOptions{Contents: all.String(), ResolveDir: ".", Sourcefile: "antiphon.css", Loader: api.LoaderCSS}
	css.Outfile, css.Outdir = "assets/antiphon.css", ""
	return errorOf(api.Build(css))
}

func errorOf(r api.BuildResult) error {
	if len(r.Errors) == 0 {
		return nil
	}
	m := r.Errors[0]
	if m.Location != nil {
		return fmt.Errorf("%s:%d: %s", m.Location.File, m.Location.Line, m.Text)
	}
	return errors.New(m.Text)
}

// empty removes what an earlier run left, but for the README.
func empty(dir string) error {
	files, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, f := range files {
		if f.Name() == "README" {
			continue
		}
		if err := os.Remove(filepath.Join(dir, f.Name())); err != nil {
			return err
		}
	}
	return nil
}
