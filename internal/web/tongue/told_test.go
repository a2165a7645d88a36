package tongue

import (
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// refusing are the files whose refusals a family can meet. Functions that only the teacher or the ear may
// call are left out by what they demand of the viewer.
var refusing = []string{"../../studio/*.go", "../page/*.go", "../arrive/*.go", "../sheet/*.go", "../week/*.go", "../door/join.go", "../door/family.go", "../library/sound.go", "../sounds/*.go", "../record/*.go"}

// sentencesOf reads the refusals out of Go files: what stands in Say of a Problem, in invalid(…), and in
// constants that end in Says. Blanks are %s whatever they hold.
func sentencesOf(t *testing.T, patterns []string) map[string]string {
	t.Helper()
	all := map[string]string{}
	for _, p := range patterns {
		files, err := filepath.Glob(p)
		if err != nil || len(files) == 0 {
			t.Fatal(p, err)
		}
		for _, file := range files {
			if base := filepath.Base(file); strings.HasSuffix(base, "_test.go") || base == "lesson_check.go" || base == "letter.go" || strings.HasPrefix(base, "planning") { // lessons, letters and plans are the teacher's
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range f.Decls {
				if fn, ok := d.(*ast.FuncDecl); ok && notForFamilies(fn) {
					continue
				}
				ast.Inspect(d, func(n ast.Node) bool {
					for _, s := range saidBy(n) {
						if strings.Count(s, " ") > 1 {
							all[s] = file
						}
					}
					return true
				})
			}
		}
	}
	return all
}

// notForFamilies: the function lets no adult of a family in.
func notForFamilies(fn *ast.FuncDecl) bool {
	barred := false
	ast.Inspect(fn, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		sel, ok := call.Fun.(*ast.SelectorExpr)
		if !ok || sel.Sel.Name != "must" {
			return true
		}
		barred = !slices.ContainsFunc(call.Args[1:], func(e ast.Expr) bool {
			id, ok := e.(*ast.Ident)
			return ok && id.Name == "Coach"
		})
		return true
	})
	return barred
}

func saidBy(n ast.Node) []string {
	var said []string
	take := func(e ast.Expr) {
		if s := text(e); s != "" {
			said = append(said, s)
		}
	}
	switch x := n.(type) {
	case *ast.KeyValueExpr:
		if id, ok := x.Key.(*ast.Ident); ok && id.Name == "Say" {
			take(x.Value)
		}
	case *ast.CompositeLit:
		if id, ok := x.Type.(*ast.Ident); ok && id.Name == "Problem" && len(x.Elts) == 3 {
			take(x.Elts[1])
		}
	case *ast.CallExpr:
		if id, ok := x.Fun.(*ast.Ident); ok && id.Name == "invalid" {
			take(x.Args[0])
		}
	case *ast.AssignStmt:
		if id, ok := x.Lhs[0].(*ast.Ident); ok && id.Name == "say" {
			take(x.Rhs[0])
		}
	case *ast.ValueSpec:
		for i, id := range x.Names {
			if strings.HasSuffix(id.Name, "Says") && i < len(x.Values) {
				take(x.Values[i])
			}
		}
	}
	return said
}

var verb = regexp.MustCompile(`%[a-z]`)

// text is a string expression with its blanks as %s; "" where it is none.
func text(e ast.Expr) string {
	switch x := e.(type) {
	case *ast.BasicLit:
		if s, err := strconv.Unquote(x.Value); err == nil && x.Kind == token.STRING {
			return verb.ReplaceAllString(s, "%s")
		}
	case *ast.BinaryExpr:
		a, b := text(x.X), text(x.Y)
		if a == "" && b == "" {
			return ""
		}
		if a == "" {
			a = "%s"
		}
		if b == "" {
			b = "%s"
		}
		return a + b
	case *ast.CallExpr:
		if sel, ok := x.Fun.(*ast.SelectorExpr); ok && sel.Sel.Name == "Sprintf" {
			return text(x.Args[0])
		}
	}
	return ""
}

// neverForFamilies are refusals of what only the teacher, the ear or a stranger at the teacher's door asks for.
var neverForFamilies = []string{
	"%s is nothing that is made of a take.",
	"A file that needs a look needs a reason.",
	"A recording to hear belongs to a task.",
	"A studio needs a name and its teacher a name.",
	"A take does not last %s seconds.",
	"This clip is another child’s. It is heard by that child only.",
	"Choose whose recording it is first.",
	"The lesson was changed in the meantime. Open its task again and choose the fingers from there.",
	"There is no score of this work that could be fingered.",
	"These fingers belong to other notes than stand in the score now. Choose fingers anew.",
	"Many files are half here already. Let them arrive, or try again tomorrow: what is not finished is given up by then.",
	"The passkey did not arrive whole. Try again.",
	"The take of yours that is to be heard is not here any more. Choose another one, or leave it out.",
	"The take of a clip is not here any more. Choose another one, or leave the clip out.",
	"The password is a name that stands on the page. Choose another.",
	"The password is longer than %s letters. Choose a shorter one.",
	"The password is one letter again and again. Choose another.",
	"The password needs at least %s letters. A sentence is easier to keep in mind than signs.",
	"This did not match. Try again, or use a recovery code.",
	"This is no hearing.",
	"This is no hearing: its schema is %s.",
	"This page belongs to a family; you are signed in as the teacher.",
	"This lesson has been sent. What is recorded in it stays; take the lesson back, or say more in the next one.",
	"This lesson is empty. Say something or ask for something, then send it.",
	"This task does not stand in the lesson any more. Save the lesson, then record it.",
	"This set-up address was used already, or a newer one was printed. Start the program again and open the address that it prints.",
	"This studio has its teacher already. Sign in instead.",
	"You are signed in as the teacher here. Send the link to the family; it is opened on their phone.",
}

// TestEveryRefusalIsTold: what the studio and the pages refuse with, a family reads in its own language;
// and no sentence is kept that nobody says any more.
func TestEveryRefusalIsTold(t *testing.T) {
	said := sentencesOf(t, refusing)
	if len(said) < 40 {
		t.Fatalf("only %d sentences were found", len(said))
	}
	for _, l := range All() {
		if l.Code == English {
			continue
		}
		for _, s := range slices.Sorted(maps.Keys(said)) {
			if slices.Contains(neverForFamilies, s) {
				continue
			}
			if _, ok := l.told[s]; !ok {
				t.Errorf("%s: %q (%s)", l.Name, s, said[s])
			}
		}
		for s, told := range l.told {
			if said[s] == "" {
				t.Errorf("%s: nobody says %q any more", l.Name, s)
			}
			if n, m := strings.Count(s, "%s"), len(verb.FindAllString(told, -1))+strings.Count(told, "%["); n != m {
				t.Errorf("%s: %q has %d blanks, %q %d", l.Name, s, n, told, m)
			}
		}
	}
	for _, s := range neverForFamilies {
		if said[s] == "" {
			t.Errorf("nobody says %q any more", s)
		}
	}
}

func TestRetell(t *testing.T) {
	for _, c := range []struct{ code, said, want string }{
		{"en", "Anything at all.", "Anything at all."},
		{"es", "The file is empty. Record it again.", "La grabación está vacía. Grabadla otra vez."},
		{"es", "Your family chose sound only for Nils. Send a sound recording, or change the choice first.", "Para Nils elegisteis solo sonido. Enviad una grabación de sonido, o cambiad antes la elección."},
		{"es", "The file is larger than the studio takes (3000 MB, at most 2048 MB). Send a shorter recording, or sound without the picture.", "La grabación es más grande de lo que admite el estudio (3000 MB, como mucho 2048 MB). Enviad una más corta, o sonido sin imagen."},
		{"es", "%!s(x) is neither sound nor video. Send a recording.", "%!s(x) no es ni sonido ni vídeo. Enviad una grabación."},
		{"es", "Nobody ever said this.", ""}, {"es", "", ""},
	} {
		got, ok := Of(c.code).Retell(c.said)
		if got != c.want || ok != (c.want != "") {
			t.Errorf("%s: %q is told as %q, %v", c.code, c.said, got, ok)
		}
	}
}
