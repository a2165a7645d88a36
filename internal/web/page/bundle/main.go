// Command bundle builds what the pages load: each *.ts file of a web package becomes assets/NAME.js, and
// tokens.css, base.css and the *.css files of the web packages become assets/antiphon.css. A script whose
// name begins with _ is only imported by others, and *.worker.ts is bundled whole, for a service worker that is no
// module. What is there stays until the new files are: `go generate` may run beside a test. It runs in the folder
// of package page.
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
	scripts, err := filepath.Glob("../*/*.ts")
	if err != nil {
		return err
	}
	scripts = slices.DeleteFunc(scripts, func(f string) bool {
		name := filepath.Base(f)
		return strings.HasPrefix(name, "_") || strings.HasSuffix(name, ".d.ts")
	})
	var entries, workers []api.EntryPoint
	for _, f := range scripts {
		entry := api.EntryPoint{InputPath: f, OutputPath: strings.TrimSuffix(filepath.Base(f), ".ts")}
		if strings.HasSuffix(f, ".worker.ts") {
			workers = append(workers, entry)
		} else {
			entries = append(entries, entry)
		}
	}
	common := api.BuildOptions{
		Outdir: "assets", Bundle: true, Target: api.ES2022, Charset: api.CharsetUTF8,
		MinifyWhitespace: true, MinifySyntax: true, MinifyIdentifiers: true,
		LegalComments: api.LegalCommentsNone,
		NodePaths:     []string{"../../../scripts/web/node_modules"},
	}
	js := common
	js.EntryPointsAdvanced = entries
	js.Format = api.FormatESModule
	js.Splitting = true
	js.ChunkNames = "chunk-[hash]"
	worker := common
	worker.EntryPointsAdvanced = workers
	worker.Format = api.FormatIIFE
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
	var made []api.OutputFile
	for _, o := range []api.BuildOptions{js, worker, css} {
		r := api.Build(o)
		if err := errorOf(r); err != nil {
			return err
		}
		made = append(made, r.OutputFiles...)
	}
	return write("assets", made)
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

// write puts the files into dir and removes what an earlier run left, but for the README.
func write(dir string, made []api.OutputFile) error {
	now := map[string]bool{"README": true}
	for _, f := range made {
		now[filepath.Base(f.Path)] = true
		if err := os.WriteFile(f.Path, f.Contents, 0o644); err != nil {
			return err
		}
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, f := range files {
		if now[f.Name()] {
			continue
		}
		if err := os.Remove(filepath.Join(dir, f.Name())); err != nil {
			return err
		}
	}
	return nil
}
