package house

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
)

const module = "antiphon"

// floors from the ground up. A room is a folder of internal/ with all its sub-folders. The design
// has report on floor 3; it shows findings, so it stands on a landing half a floor above them.
var floors = map[string]float64{
	"music": 0, "dsp": 0, "cage": 0, "reading": 0,
	"notation": 1, "guitar": 1, "media": 1, "captions": 1,
	"playable": 1.5, "pluck": 1.5, // hands asks both
	"ear": 2, "hands": 2, "sound": 2, "engrave": 2,
	"tone":       2.2, // of what the ear heard
	"difficulty": 2.5,
	"exercise":   3, "findings": 3, "plan": 3,
	"rehearse": 3.1,                  // its studio simulator lets plans run
	"remedies": 3.2, "evidence": 3.3, // both read findings
	"report": 3.5, "compare": 3.5, "amend": 3.5,
	"studio": 4,
	"store":  5, "jobs": 5, "listen": 5, "notify": 5,
	"scenario":     5.5, // the invented studio
	"web":          6,
	"cmd/antiphon": 7,
	"house":        0, // this package
}

// Floors 0 to 4 know nothing of SQL and HTTP; floors 0 to 3 nothing of the clock.
const (
	withoutStorage = 4
	withoutClock   = 3.5
	roof           = 7 // where everything is wired: any package main
)

func room(pkg string) string {
	if rest, ok := strings.CutPrefix(pkg, "internal/"); ok {
		name, _, _ := strings.Cut(rest, "/")
		return name
	}
	return pkg
}

// check reads every Go file that is no test below fsys and says what is against the rules. Tests
// may look upwards: an outside test of the ear listens to takes that rehearse makes.
func check(fsys fs.FS) (faults []string, packages int, err error) {
	imports := map[string][]string{} // package folder to the package folders it imports
	err = fs.WalkDir(fsys, ".", func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if n := d.Name(); file != "." && (strings.HasPrefix(n, ".") || strings.HasPrefix(n, "_") || n == "testdata" || n == "node_modules") {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") {
			return nil
		}
		src, err := fs.ReadFile(fsys, file)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, src, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		pkg := path.Dir(file)
		imports[pkg] = append(imports[pkg], nil...) // known, even if it imports nothing
		floor, known := floors[room(pkg)]
		if !known {
			faults = append(faults, file+": package "+pkg+" has no floor")
			return nil
		}
		if f.Name.Name == "main" {
			floor = roof
		}
		for _, im := range f.Imports {
			of, err := strconv.Unquote(im.Path.Value)
			if err != nil {
				return err
			}
			if (of == "database/sql" || of == "net/http") && floor <= withoutStorage {
				faults = append(faults, fmt.Sprintf("%s: floor %v imports %s", file, floor, of))
			}
			own, ok := strings.CutPrefix(of, module+"/")
			if !ok {
				continue
			}
			imports[pkg] = append(imports[pkg], own)
			below, known := floors[room(own)]
			switch {
			case room(own) == room(pkg): // a room may have corners
			case !known:
				faults = append(faults, file+": imports "+own+", which has no floor")
			case below >= floor:
				faults = append(faults, fmt.Sprintf("%s: floor %v (%s) imports floor %v (%s)", file, floor, room(pkg), below, room(own)))
			}
		}
		if floor <= withoutClock {
			for _, name := range clocks(f) {
				faults = append(faults, fmt.Sprintf("%s: floor %v reads the clock (%s)", file, floor, name))
			}
		}
		return nil
	})
	for pkg := range imports {
		if way := circle(imports, pkg, []string{pkg}); way != nil {
			faults = append(faults, "a circle: "+strings.Join(way, " → "))
		}
	}
	slices.Sort(faults)
	return faults, len(imports), err
}

// clocks lists what a file takes from package time that depends on the moment.
func clocks(f *ast.File) (found []string) {
	ast.Inspect(f, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains([]string{"Now", "Since", "Until"}, sel.Sel.Name) {
				found = append(found, "time."+sel.Sel.Name)
			}
		}
		return true
	})
	return found
}

// circle is a way that leads from the last step back to the first, or nil.
func circle(imports map[string][]string, first string, way []string) []string {
	for _, next := range imports[way[len(way)-1]] {
		if next == first {
			return append(way, next)
		}
		if !slices.Contains(way, next) {
			if found := circle(imports, first, append(slices.Clone(way), next)); found != nil {
				return found
			}
		}
	}
	return nil
}

func TestNobodyClimbs(t *testing.T) {
	faults, packages, err := check(os.DirFS("../.."))
	if err != nil {
		t.Fatal(err)
	}
	if packages < 5 {
		t.Errorf("only %d packages were read: is this the root of the module?", packages)
	}
	for _, f := range faults {
		t.Error(f)
	}
}

// TestFaultsAreSeen shows the check small houses with one fault each.
func TestFaultsAreSeen(t *testing.T) {
	file := func(pkg string, imports ...string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("package " + pkg + "\nimport (\n\"" + strings.Join(imports, "\"\n\"") + "\"\n)\n")}
	}
	for _, c := range []struct {
		name  string
		house fstest.MapFS
		want  string // "" none
	}{
		{"downwards", fstest.MapFS{"internal/ear/a.go": file("ear", "antiphon/internal/music", "fmt")}, ""},
		{"within a room", fstest.MapFS{"internal/web/desk/a.go": file("desk", "antiphon/internal/web/look")}, ""},
		{"a test looks up", fstest.MapFS{"internal/ear/a_test.go": file("ear_test", "antiphon/internal/rehearse")}, ""},
		{"a climb", fstest.MapFS{"internal/music/a.go": file("music", "antiphon/internal/ear")}, "floor 0 (music) imports floor 2 (ear)"},
		{"next door", fstest.MapFS{"internal/findings/a.go": file("findings", "antiphon/internal/plan")}, "floor 3 (findings) imports floor 3 (plan)"},
		{"a tool beside its room", fstest.MapFS{"internal/rehearse/accuracy/a.go": file("main", "antiphon/internal/report", "antiphon/internal/rehearse")}, ""},
		{"a corner climbs", fstest.MapFS{"internal/store/sqlite/a.go": file("sqlite", "antiphon/internal/web/desk")}, "floor 5 (store) imports floor 6 (web)"},
		{"no floor", fstest.MapFS{"internal/util/a.go": file("util", "fmt")}, "no floor"},
		{"imports no floor", fstest.MapFS{"internal/ear/a.go": file("ear", "antiphon/internal/util")}, "no floor"},
		{"a circle", fstest.MapFS{
			"internal/web/a/a.go": file("a", "antiphon/internal/web/b"),
			"internal/web/b/b.go": file("b", "antiphon/internal/web/a"),
		}, "a circle"},
		{"SQL below", fstest.MapFS{"internal/studio/a.go": file("studio", "database/sql")}, "imports database/sql"},
		{"HTTP below", fstest.MapFS{"internal/report/a.go": file("report", "net/http")}, "imports net/http"},
		{"the clock below", fstest.MapFS{"internal/plan/a.go": &fstest.MapFile{Data: []byte("package plan\nimport \"time\"\nvar t = time.Now()\n")}}, "reads the clock"},
		{"broken", fstest.MapFS{"internal/plan/a.go": &fstest.MapFile{Data: []byte("pack")}}, "error"},
	} {
		faults, _, err := check(c.house)
		if err != nil {
			faults = append(faults, "error: "+err.Error())
		}
		got := strings.Join(faults, "; ")
		if (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}
