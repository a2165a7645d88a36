package plan

import _ "embed"

//go:embed example.json
var example []byte

// Example is the state of an invented studio, as a file to begin from.
func Example() []byte { return append([]byte(nil), example...) }
