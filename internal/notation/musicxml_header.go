package notation

import (
	"encoding/xml"
	"strings"

	"antiphon/internal/music"
)

// header reads what stands before the parts.
func (r *xmlScore) header(e xml.StartElement) error {
	n, err := r.x.tree(e)
	if err != nil {
		return err
	}
	s := r.s
	switch n.name {
	case "work":
		if t := clip(n.at("work-title"), maxText); t != "" {
			if s.Title != "" && s.Title != t {
				s.Subtitle = s.Title
			}
			s.Title = t
		}
	case "movement-title":
		switch t := clip(n.text, maxText); {
		case s.Title == "":
			s.Title = t
		case t != s.Title:
			s.Subtitle = t
		}
	case "identification":
		for _, k := range n.kids {
			r.identify(k)
		}
	case "credit":
		if s.Title == "" && n.at("credit-type") == "title" {
			s.Title = clip(n.at("credit-words"), maxText)
		}
	case "part-list":
		for _, k := range n.kids {
			if k.name == "score-part" {
				r.scorePart(k)
			}
		}
	}
	return nil
}

func (r *xmlScore) identify(k *node) {
	switch k.name {
	case "creator":
		role, name := clip(k.get("type"), maxBarNumber), clip(k.text, maxText)
		switch {
		case name == "":
		case r.s.Composer == "" && (role == "composer" || role == ""):
			r.s.Composer = name
		default:
			r.s.Creators = append(r.s.Creators, music.Creator{Role: role, Name: name})
		}
	case "rights":
		if k.text != "" {
			r.s.Rights = append(r.s.Rights, clip(k.text, maxText))
		}
	}
}

func (r *xmlScore) scorePart(n *node) {
	p := music.Part{ID: clip(n.get("id"), maxBarNumber), Name: oneLine(n.at("part-name")), Abbrev: oneLine(n.at("part-abbreviation"))}
	p.Instrument = oneLine(n.at("score-instrument", "instrument-name"))
	if v, ok := whole(n.at("midi-instrument", "midi-program"), 128); ok && v > 0 {
		p.Program = v
	}
	if v, ok := whole(n.at("midi-instrument", "midi-channel"), 16); ok && v > 0 {
		p.Channel = v
	}
	r.addPart(p)
}

// oneLine is text on one line, cut to a sane length.
func oneLine(s string) string { return clip(strings.Join(strings.Fields(s), " "), maxText) }
