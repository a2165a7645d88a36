package notation

import (
	"bufio"
	"encoding/xml"
	"io"
	"strconv"
	"strings"
)

// xmlOut writes elements, indented, and remembers the first error.
type xmlOut struct {
	w    *bufio.Writer
	open []string
	err  error
}

func newXMLOut(w io.Writer) *xmlOut { return &xmlOut{w: bufio.NewWriter(w)} }

func (o *xmlOut) raw(s string) {
	if o.err == nil {
		_, o.err = o.w.WriteString(s)
	}
}

func (o *xmlOut) text(s string) {
	if o.err == nil {
		o.err = xml.EscapeText(o.w, []byte(s))
	}
}

// tag writes the inside of a start tag. Attributes are name and value in turn; empty values are left out.
func (o *xmlOut) tag(name string, attrs []string) {
	o.raw(strings.Repeat(" ", len(o.open)) + "<" + name)
	for i := 0; i+1 < len(attrs); i += 2 {
		if attrs[i+1] == "" {
			continue
		}
		o.raw(" " + attrs[i] + `="`)
		o.text(attrs[i+1])
		o.raw(`"`)
	}
}

// begin opens an element.
func (o *xmlOut) begin(name string, attrs ...string) {
	o.tag(name, attrs)
	o.raw(">\n")
	o.open = append(o.open, name)
}

// end closes the element that was opened last.
func (o *xmlOut) end() {
	name := o.open[len(o.open)-1]
	o.open = o.open[:len(o.open)-1]
	o.raw(strings.Repeat(" ", len(o.open)) + "</" + name + ">\n")
}

// empty writes an element without content.
func (o *xmlOut) empty(name string, attrs ...string) {
	o.tag(name, attrs)
	o.raw("/>\n")
}

// leaf writes an element that holds text.
func (o *xmlOut) leaf(name, text string, attrs ...string) {
	if text == "" {
		o.empty(name, attrs...)
		return
	}
	o.tag(name, attrs)
	o.raw(">")
	o.text(text)
	o.raw("</" + name + ">\n")
}

// some writes a leaf unless its text is empty.
func (o *xmlOut) some(name, text string, attrs ...string) {
	if text != "" {
		o.leaf(name, text, attrs...)
	}
}

func (o *xmlOut) number(name string, n int) { o.leaf(name, strconv.Itoa(n)) }

func (o *xmlOut) flush() error {
	if o.err != nil {
		return o.err
	}
	return o.w.Flush()
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// positive is n as text, or nothing for 0 and less.
func positive(n int) string {
	if n <= 0 {
		return ""
	}
	return strconv.Itoa(n)
}
