package engrave

import (
	"errors"
	"html"
	"math"
	"strconv"
	"strings"
)

// node is an element of the drawing. Only what the engraving library writes is understood: elements,
// attributes in double quotes, and text in leaves.
type node struct {
	name  string
	attrs []attr
	kids  []*node
	text  string
}

type attr struct{ name, value string }

func (n *node) get(name string) string {
	for _, a := range n.attrs {
		if a.name == name {
			return a.value
		}
	}
	return ""
}

func (n *node) set(name, value string) {
	for i := range n.attrs {
		if n.attrs[i].name == name {
			n.attrs[i].value = value
			return
		}
	}
	n.attrs = append(n.attrs, attr{name, value})
}

func (n *node) drop(names ...string) {
	kept := n.attrs[:0]
	for _, a := range n.attrs {
		gone := false
		for _, name := range names {
			gone = gone || a.name == name
		}
		if !gone {
			kept = append(kept, a)
		}
	}
	n.attrs = kept
}

// class is the first word of the element's class.
func (n *node) class() string {
	c, _, _ := strings.Cut(n.get("class"), " ")
	return c
}

func (n *node) float(name string) float64 {
	v, _ := strconv.ParseFloat(strings.TrimSuffix(n.get(name), "px"), 64)
	return v
}

// add puts a new element into n. Attributes are name and value in turn; empty ones are left out.
func (n *node) add(name string, attrs ...string) *node {
	k := element(name, attrs...)
	n.kids = append(n.kids, k)
	return k
}

func element(name string, attrs ...string) *node {
	k := &node{name: name}
	for i := 0; i+1 < len(attrs); i += 2 {
		if attrs[i+1] != "" {
			k.attrs = append(k.attrs, attr{attrs[i], attrs[i+1]})
		}
	}
	return k
}

// walk visits n and all below it, parents first, as long as visit says to go deeper.
func (n *node) walk(visit func(*node) bool) {
	if !visit(n) {
		return
	}
	for _, k := range n.kids {
		k.walk(visit)
	}
}

var errDrawing = errors.New("the engraving library wrote a drawing that cannot be read")

// parseDrawing reads one page that the engraving library drew.
func parseDrawing(s string) (*node, error) {
	root := &node{}
	open := []*node{root}
	for len(s) > 0 {
		lt := strings.IndexByte(s, '<')
		if lt < 0 {
			break
		}
		if text := strings.TrimSpace(s[:lt]); text != "" {
			open[len(open)-1].text += html.UnescapeString(s[:lt])
		}
		s = s[lt:]
		gt := strings.IndexByte(s, '>')
		if gt < 0 {
			return nil, errDrawing
		}
		tag := s[1:gt]
		s = s[gt+1:]
		switch {
		case tag == "":
			return nil, errDrawing
		case tag[0] == '?' || tag[0] == '!':
		case tag[0] == '/':
			if len(open) < 2 {
				return nil, errDrawing
			}
			open = open[:len(open)-1]
		default:
			empty := strings.HasSuffix(tag, "/")
			n := parseTag(strings.TrimSuffix(tag, "/"))
			up := open[len(open)-1]
			up.kids = append(up.kids, n)
			if !empty {
				open = append(open, n)
			}
		}
	}
	if len(open) != 1 || len(root.kids) != 1 {
		return nil, errDrawing
	}
	return root.kids[0], nil
}

func parseTag(tag string) *node {
	name, rest, _ := strings.Cut(tag, " ")
	n := &node{name: name}
	for {
		k, after, ok := strings.Cut(rest, `="`)
		if !ok {
			return n
		}
		v, next, ok := strings.Cut(after, `"`)
		if !ok {
			return n
		}
		if strings.IndexByte(v, '&') >= 0 {
			v = html.UnescapeString(v)
		}
		n.attrs = append(n.attrs, attr{strings.TrimSpace(k), v})
		rest = next
	}
}

// write appends the element as text.
func (n *node) write(b *strings.Builder) {
	b.WriteByte('<')
	b.WriteString(n.name)
	for _, a := range n.attrs {
		b.WriteByte(' ')
		b.WriteString(a.name)
		b.WriteString(`="`)
		b.WriteString(escaped(a.value))
		b.WriteByte('"')
	}
	if len(n.kids) == 0 && n.text == "" {
		b.WriteString("/>")
		return
	}
	b.WriteByte('>')
	b.WriteString(escaped(n.text))
	for _, k := range n.kids {
		k.write(b)
	}
	b.WriteString("</")
	b.WriteString(n.name)
	b.WriteByte('>')
}

// escaped makes a text safe inside an element and inside an attribute.
func escaped(s string) string {
	if !strings.ContainsAny(s, `&<>"`) && !strings.ContainsFunc(s, unprintable) {
		return s
	}
	s = strings.Map(func(r rune) rune {
		if unprintable(r) {
			return -1
		}
		return r
	}, s)
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(s)
}

// unprintable characters are none in XML 1.0.
func unprintable(r rune) bool {
	return r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF || r == 0xFFFD
}

// num writes a coordinate: a 180th of a staff space is finer than any printer.
func num(v float64) string { return strconv.FormatFloat(math.Round(v)+0, 'f', -1, 64) } // +0: no "-0"
