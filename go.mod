module antiphon

go 1.26.8

require (
	github.com/alecthomas/kong v1.17.0
	github.com/chromedp/cdproto v0.159.0
	github.com/chromedp/chromedp v0.23.0
	github.com/evanw/esbuild v0.28.2
	golang.org/x/sys v0.50.0
	golang.org/x/term v0.48.0
	golang.org/x/text v0.44.0
	gonum.org/v1/gonum v0.17.0
)

require (
	codeberg.org/go-pdf/fpdf v0.12.0 // indirect
	github.com/go-json-experiment/json v0.0.0-20260213210345-44df1a37e875 // indirect
	github.com/goccy/go-yaml v1.19.2 // indirect
	github.com/tetratelabs/wazero v1.12.0 // indirect
	golang.org/x/image v0.48.0 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
