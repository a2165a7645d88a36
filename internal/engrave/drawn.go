package engrave

// drawnSign is a character that the text font lacks and note names need, in thousandths of the size, y
// downwards. Which way its edges turn says what is ink.
type drawnSign struct {
	path    []segment
	advance float64
}

// drawnSigns are our own drawings.
func drawnSigns(r rune) (drawnSign, bool) {
	if r != '♭' {
		return drawnSign{}, false
	}
	at := func(op byte, p ...point) segment {
		s := segment{op: op}
		copy(s.p[:], p)
		return s
	}
	return drawnSign{advance: 400, path: []segment{
		at('M', point{50, -780}), at('L', point{96, -780}), at('L', point{96, -372}),
		at('C', point{146, -432}, point{206, -462}, point{258, -462}), at('C', point{326, -462}, point{370, -415}, point{370, -345}),
		at('C', point{370, -190}, point{170, -90}, point{50, 20}), at('Z'),
		at('M', point{96, -82}), at('C', point{180, -142}, point{282, -240}, point{282, -340}),
		at('C', point{282, -382}, point{258, -406}, point{222, -406}), at('C', point{176, -406}, point{128, -372}, point{96, -326}), at('Z'),
	}}, true
}

func (d drawnSign) box() box {
	return union(pathBoxes(d.path, identity(), 0))
}

// pieces cuts a text where the font lacks a character that we draw.
func (f *fonts) pieces(text string, s style) (out []string) {
	from := 0
	for i, r := range text {
		if _, ours := f.ours(r, s); ours {
			if from < i {
				out = append(out, text[from:i])
			}
			out, from = append(out, string(r)), i+len(string(r))
		}
	}
	if from < len(text) {
		out = append(out, text[from:])
	}
	return out
}

// ours is the drawing of a character that the font lacks, if there is one.
func (f *fonts) ours(r rune, s style) (drawnSign, bool) {
	d, ok := drawnSigns(r)
	if !ok {
		return d, false
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	g, err := f.face(s).GlyphIndex(&f.buf, r)
	return d, err != nil || g == 0
}
