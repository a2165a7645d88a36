package exercise

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// maxRecipeBytes is many times what a recipe needs.
const maxRecipeBytes = 32 << 10

// Read reads a recipe: YAML with one value, or one list of values, a key. It is strict. A key that
// it does not know, a key twice, anything nested deeper, and anchors, aliases, tags and a second
// document are refused with the line where they stand. The name is used only in messages.
func Read(data []byte, name string) (Recipe, error) {
	r := Recipe{name: name, lines: map[string]int{}}
	wrong := func(line int, key, format string, args ...any) (Recipe, error) {
		return Recipe{}, &Problem{Name: name, Kind: BadRecipe, Line: line, Key: key, Say: fmt.Sprintf(format, args...), Err: ErrBadRecipe}
	}
	switch {
	case len(data) > maxRecipeBytes:
		return wrong(0, "", "it is larger than %d KB and no recipe; a recipe is a page at most", maxRecipeBytes>>10)
	case !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0:
		return wrong(0, "", "it is no text; write the recipe as plain text in UTF-8")
	}
	pairs, err := pairsOf(data)
	if err != nil {
		if p, ok := err.(*Problem); ok {
			p.Name = name
		}
		return Recipe{}, err
	}
	fields := r.Fields()
	for _, p := range pairs {
		f := find(fields, p.key)
		if f == nil {
			return wrong(p.line, "", "%q is no key of a recipe%s", clip(p.key), meant(p.key, fields))
		}
		if first := r.lines[p.key]; first > 0 {
			return wrong(p.line, p.key, "it stands in line %d already; keep one of the two", first)
		}
		r.lines[p.key] = p.line
		if err := f.set(p.text); err != nil {
			return Recipe{}, r.placed(err)
		}
	}
	if r.Pattern == "" {
		return wrong(0, "", "it has no line \"pattern:\"; choose %s", list(patternNames(), "or"))
	}
	return r, nil
}

func find(fields []Field, name string) *Field {
	for i := range fields {
		if fields[i].Name == name {
			return &fields[i]
		}
	}
	return nil
}

// pair is a key with its value as text; the values of a list are joined by spaces, or by commas
// where one of them has a space itself.
type pair struct {
	key, text string
	line      int
}

func pairsOf(data []byte) ([]pair, error) {
	file, err := parser.ParseBytes(data, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		line, say := 0, "it is not written as a recipe"
		if ye, ok := err.(yaml.Error); ok {
			if t := ye.GetToken(); t != nil && t.Position != nil {
				line = t.Position.Line
			}
			say += " (" + clip(ye.GetMessage()) + ")"
		}
		return nil, &Problem{Kind: BadRecipe, Line: line, Say: say + "; write one \"key: value\" a line", Err: fmt.Errorf("%w: %w", ErrBadRecipe, err)}
	}
	var body ast.Node
	for _, d := range file.Docs {
		switch {
		case d.Body == nil:
		case d.Body.Type() == ast.CommentType:
		case body != nil:
			return nil, at(d.Body, "a second recipe begins here; put it into a file of its own")
		default:
			body = d.Body
		}
	}
	var values []*ast.MappingValueNode
	switch n := body.(type) {
	case nil:
		return nil, &Problem{Kind: BadRecipe, Say: "it is empty; write at least a line \"pattern: scale\"", Err: ErrBadRecipe}
	case *ast.MappingNode:
		values = n.Values
	case *ast.MappingValueNode:
		values = []*ast.MappingValueNode{n}
	default:
		return nil, at(n, "a recipe is lines of \"key: value\"")
	}
	var out []pair
	for _, v := range values {
		key, ok := scalar(v.Key)
		if !ok {
			return nil, at(v.Key, "this is no key; write one \"key: value\" a line")
		}
		text, err := valueText(v.Value)
		if err != nil {
			return nil, err
		}
		out = append(out, pair{key, text, lineOf(v.Key)})
	}
	return out, nil
}

func valueText(n ast.Node) (string, error) {
	if t, ok := scalar(n); ok {
		return t, nil
	}
	seq, ok := n.(*ast.SequenceNode)
	if !ok {
		return "", at(n, "a value is a word, a number or a list of them, nothing nested")
	}
	var list []string
	for _, v := range seq.Values {
		t, ok := scalar(v)
		if !ok {
			return "", at(v, "a list holds words or numbers, nothing nested")
		}
		list = append(list, t)
	}
	glue := " "
	if strings.Contains(strings.Join(list, ""), " ") {
		glue = ", "
	}
	return strings.Join(list, glue), nil
}

// scalar is the text of a plain value as it is written: a recipe's "6/3", "2" and "no" are words to
// us, whatever YAML would make of them.
func scalar(n ast.Node) (string, bool) {
	switch v := n.(type) {
	case *ast.StringNode:
		return v.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return v.GetToken().Value, true
	case *ast.LiteralNode:
		return strings.TrimSpace(v.Value.Value), true
	}
	return "", false
}

func at(n ast.Node, say string) *Problem {
	return &Problem{Kind: BadRecipe, Line: lineOf(n), Say: say, Err: ErrBadRecipe}
}

func lineOf(n ast.Node) int {
	if n == nil {
		return 0
	}
	if t := n.GetToken(); t != nil && t.Position != nil {
		return t.Position.Line
	}
	return 0
}

// meant names the known key that is nearest to a misspelt one.
func meant(key string, fields []Field) string {
	best, least := "", 3
	for _, f := range fields {
		if d := distance(strings.ToLower(key), f.Name); d < least {
			best, least = f.Name, d
		}
	}
	if best != "" {
		return fmt.Sprintf("; did you mean %q?", best)
	}
	var names []string
	for _, f := range fields {
		names = append(names, f.Name)
	}
	return "; there are " + list(names, "and")
}

// distance is the number of letters to add, take away or change (Levenshtein 1965).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(diagonal+cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
