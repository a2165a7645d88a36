// Command bundle builds the script of the report page: page.ts becomes assets/page.js, for browsers
// of the last few years. `go generate` runs it in the folder of package report.
package main

import (
	"fmt"
	"os"

	"github.com/evanw/esbuild/pkg/api"
)

func main() {
	result := api.Build(api.BuildOptions{
		EntryPoints:       []string{"page.ts"},
		Outfile:           "assets/page.js",
		Bundle:            true,
		Write:             true,
		Format:            api.FormatIIFE,
		Target:            api.ES2020,
		Charset:           api.CharsetASCII, // nothing that an encoding could spoil
		MinifyWhitespace:  true,
		MinifySyntax:      true,
		MinifyIdentifiers: true,
		LegalComments:     api.LegalCommentsNone,
	})
	for _, m := range result.Errors {
		place := ""
		if m.Location != nil {
			place = fmt.Sprintf("%s:%d: ", m.Location.File, m.Location.Line)
		}
		fmt.Fprintln(os.Stderr, place+m.Text)
	}
	if len(result.Errors) > 0 {
		os.Exit(1)
	}
}
