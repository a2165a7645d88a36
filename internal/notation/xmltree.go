package notation

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/ianaindex"
	"golang.org/x/text/encoding/unicode"
)

// node is one element with all that is in it.
type node struct {
	name string
	attr []xml.Attr
	text string // its own text, trimmed
	kids []*node
	line int
}

func (n *node) kid(name string) *node {
	if n == nil {
		return nil
	}
	for _, k := range n.kids {
		if k.name == name {
			return k
		}
	}
	return nil
}

func (n *node) has(name string) bool { return n.kid(name) != nil }

// at is the text of a descendant, "" if there is none: n.at("pitch", "step").
func (n *node) at(path ...string) string {
	for _, p := range path {
		n = n.kid(p)
	}
	if n == nil {
		return ""
	}
	return n.text
}

func (n *node) get(attr string) string { return attrOf(n.attr, attr) }

func attrOf(attrs []xml.Attr, name string) string {
	for _, a := range attrs {
		if a.Name.Local == name {
			return strings.TrimSpace(a.Value)
		}
	}
	return ""
}

// whole is the text as an integer within ±limit; ok is false if it is none.
func whole(s string, limit int) (n int, ok bool) {
	n, err := strconv.Atoi(strings.TrimPrefix(strings.TrimSpace(s), "+"))
	if err != nil || n > limit || n < -limit {
		return 0, false
	}
	return n, true
}

// wholeOr is whole with a value for what is none.
func wholeOr(s string, limit, otherwise int) int {
	if n, ok := whole(s, limit); ok {
		return n
	}
	return otherwise
}

// xmlStream hands out tokens and subtrees, within limits.
type xmlStream struct {
	d        *xml.Decoder
	lim      Limits
	elements int
	depth    int
	bar      string // where the reader is, for errors
}

func newXMLStream(data []byte, lim Limits, p *pardons) (*xmlStream, error) {
	data, err := toDecodable(data, p)
	if err != nil {
		return nil, err
	}
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = func(label string, in io.Reader) (io.Reader, error) {
		enc := charset(label)
		switch {
		case enc != nil:
			return enc.NewDecoder().Reader(in), nil
		case strings.HasPrefix(strings.ToLower(label), "utf"): // it was decoded, or is UTF-8 after all
			return in, nil
		}
		return nil, fmt.Errorf("unknown encoding %q", printable(label))
	}
	return &xmlStream{d: d, lim: lim}, nil
}

// charset finds an encoding by the name that a file gives it; nil for one of Unicode's own.
func charset(label string) encoding.Encoding {
	label = strings.ToLower(strings.TrimSpace(label))
	if strings.HasPrefix(label, "utf") || label == "unicode" || label == "ascii" || label == "us-ascii" {
		return nil
	}
	if enc, err := htmlindex.Get(label); err == nil {
		return enc
	}
	if enc, err := ianaindex.IANA.Encoding(label); err == nil && enc != nil {
		return enc
	}
	return nil
}

// toDecodable turns UTF-16 into UTF-8 and takes out bytes that may stand in no XML file.
func toDecodable(data []byte, p *pardons) ([]byte, error) {
	wide := unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	switch {
	case bytes.HasPrefix(data, []byte{0xFE, 0xFF}), bytes.HasPrefix(data, []byte{0xFF, 0xFE}):
	case bytes.HasPrefix(data, []byte{0, '<'}):
		wide = unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)
	case bytes.HasPrefix(data, []byte{'<', 0}):
		wide = unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)
	default:
		wide = nil
	}
	if wide != nil {
		out, err := wide.NewDecoder().Bytes(data)
		if err != nil {
			return nil, illFormed(0, "", "its UTF-16 text cannot be decoded", err)
		}
		data = out
	}
	data = bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF")), " \t\r\n")
	head := data[:min(len(data), 200)]
	if i := bytes.Index(head, []byte("?>")); i >= 0 {
		head = head[:i]
	} else {
		head = nil
	}
	if i := bytes.Index(head, []byte("1.1")); i >= 0 && i < 20 { // XML 1.1 differs in nothing that scores use
		data = slices.Concat(data[:i], []byte("1.0"), data[i+3:])
	}
	declared := ""
	if i := bytes.Index(head, []byte("encoding")); i >= 0 {
		declared = strings.ToLower(strings.Trim(string(head[i+len("encoding"):]), " =\"'\t\r\n"))
		if j := strings.IndexAny(declared, "\"' "); j >= 0 {
			declared = declared[:j]
		}
	}
	if (declared == "" || strings.HasPrefix(declared, "utf")) && !utf8.Valid(data) {
		p.add(0, "", "the file says that it is UTF-8 and is not; it was read as Windows-1252")
		out, err := charmap.Windows1252.NewDecoder().Bytes(data)
		if err != nil {
			return nil, illFormed(0, "", "its text cannot be decoded", err)
		}
		data = out
	}
	if declared != "" && !strings.HasPrefix(declared, "utf") {
		return data, nil // bytes.Map below would spoil other encodings
	}
	if bytes.IndexFunc(data, isControl) < 0 {
		return data, nil
	}
	p.add(0, "", "control characters were taken out")
	return bytes.Map(func(r rune) rune {
		if isControl(r) {
			return -1
		}
		return r
	}, data), nil
}

// isControl are the characters below space that may not stand in XML.
func isControl(r rune) bool { return r < 0x20 && r != '\t' && r != '\n' && r != '\r' }

// next is the next start or end tag, or text; nil at the end of the file.
func (x *xmlStream) next() (xml.Token, error) {
	for {
		t, err := x.d.Token()
		if err == io.EOF {
			return nil, nil
		}
		if err != nil {
			return nil, x.broken(err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			x.elements++
			x.depth++
			if x.elements > x.lim.Elements {
				return nil, tooLarge("it has more than %d XML elements", x.lim.Elements)
			}
			if x.depth > x.lim.Depth {
				return nil, &ReadError{Kind: TooLarge, Line: x.line(), Bar: x.bar, Err: ErrTooLarge,
					Say: fmt.Sprintf("XML elements are nested deeper than %d; this is no score that a notation program wrote", x.lim.Depth)}
			}
			return t, nil
		case xml.EndElement:
			x.depth--
			return t, nil
		case xml.CharData:
			return t, nil
		case xml.Directive:
			if bytes.Contains(bytes.ToUpper(t), []byte("<!ENTITY")) {
				return nil, x.entity()
			}
		}
	}
}

func (x *xmlStream) line() int {
	line, _ := x.d.InputPos()
	return line
}

func (x *xmlStream) entity() error {
	return &ReadError{Kind: Hostile, Line: x.line(), Bar: x.bar, Err: ErrEntity,
		Say: "it declares or uses XML entities of its own, which are refused; export the score again without them"}
}

func (x *xmlStream) broken(err error) error {
	if strings.Contains(err.Error(), "character entity") {
		return x.entity()
	}
	say := "the XML stops making sense here"
	var syntax *xml.SyntaxError
	if errors.As(err, &syntax) {
		if strings.Contains(syntax.Msg, "unexpected EOF") {
			say = "the file ends too early"
		}
		return illFormed(syntax.Line, x.bar, say+" ("+printable(syntax.Msg)+")", err)
	}
	return illFormed(x.line(), x.bar, say+" ("+printable(err.Error())+")", err)
}

// maxTree is how many elements one note, direction or part list may hold.
const maxTree = 50_000

// tree reads the rest of an element that has just begun.
func (x *xmlStream) tree(start xml.StartElement) (*node, error) {
	root := &node{name: start.Name.Local, attr: start.Attr, line: x.line()}
	stack := []*node{root}
	most := x.elements + maxTree
	for {
		t, err := x.next()
		if err != nil {
			return nil, err
		}
		top := stack[len(stack)-1]
		switch t := t.(type) {
		case nil:
			return nil, illFormed(x.line(), x.bar, "the file ends too early", nil)
		case xml.StartElement:
			if x.elements > most {
				return nil, tooLarge("one of its elements (<%s>) holds more than %d others", printable(clip(root.name, 40)), maxTree)
			}
			k := &node{name: t.Name.Local, attr: t.Attr, line: x.line()}
			top.kids = append(top.kids, k)
			stack = append(stack, k)
		case xml.CharData:
			if len(top.kids) == 0 { // elements of MusicXML hold text or elements, not both
				top.text += string(t)
			}
		case xml.EndElement:
			top.text = strings.TrimSpace(top.text)
			if stack = stack[:len(stack)-1]; len(stack) == 0 {
				return root, nil
			}
		}
	}
}

// children calls do for each element inside the one that has just begun, until it ends. What do does
// not read to its end with tree or children is read on by them.
func (x *xmlStream) children(do func(xml.StartElement) error) error {
	for {
		t, err := x.next()
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case nil:
			return illFormed(x.line(), x.bar, "the file ends too early", nil)
		case xml.StartElement:
			if err := do(t); err != nil {
				return err
			}
		case xml.EndElement:
			return nil
		}
	}
}
