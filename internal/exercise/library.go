package exercise

import (
	"embed"
	"io/fs"
	"path"
	"strings"
)

//go:embed recipes/*.yaml
var recipes embed.FS

// Example is a recipe that comes with the program.
type Example struct {
	Name   string // without .yaml
	Recipe Recipe
	Source []byte // the file as it is
}

// Examples lists the recipes that come with the program, by name.
func Examples() ([]Example, error) {
	entries, err := fs.ReadDir(recipes, "recipes")
	if err != nil {
		return nil, err
	}
	var out []Example
	for _, e := range entries {
		data, err := fs.ReadFile(recipes, path.Join("recipes", e.Name()))
		if err != nil {
			return nil, err
		}
		r, err := Read(data, e.Name())
		if err != nil {
			return nil, err
		}
		out = append(out, Example{strings.TrimSuffix(e.Name(), ".yaml"), r, data})
	}
	return out, nil
}

// ExampleNamed finds one of them; ok is false where there is none.
func ExampleNamed(name string) (e Example, ok bool, err error) {
	all, err := Examples()
	for _, e := range all {
		if e.Name == strings.TrimSuffix(name, ".yaml") {
			return e, true, nil
		}
	}
	return Example{}, false, err
}
