package take

import (
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/findings"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

type remarkView struct {
	ID      studio.RemarkID
	Place   string
	AtS     string
	Text    string
	Media   string // address of what was said or filmed
	Coming  bool   // it is being made ready
	Film    bool
	Drawing string // JSON
}

type correctionView struct {
	ID   studio.CorrectionID
	Say  string
	Undo bool
}

// remarks stand in the order of their places in the take.
func (v *view) remarks(rv studio.Review, l *listened) {
	clean := map[studio.MediaID]string{} // types
	for _, m := range rv.Media {
		if m.Clean {
			clean[m.ID] = m.Type
		}
	}
	all := slices.Clone(rv.Remarks)
	slices.SortStableFunc(all, func(a, b studio.Remark) int {
		switch {
		case a.Anchor.AtS < b.Anchor.AtS:
			return -1
		case a.Anchor.AtS > b.Anchor.AtS:
			return 1
		}
		return 0
	})
	for _, m := range all {
		x := remarkView{ID: m.ID, Place: v.placeOf(m.Anchor, l), AtS: fmt.Sprintf("%.2f", m.Anchor.AtS), Text: m.Text, Drawing: string(m.Anchor.Frame)}
		if typ, ok := clean[m.Media]; ok {
			x.Media, x.Film = "/media/"+string(m.Media), strings.HasPrefix(typ, "video/")
		} else {
			x.Coming = m.Media != ""
		}
		v.Remarks = append(v.Remarks, x)
	}
}

// placeOf is where a remark belongs; "" where there is nothing to hear.
func (v *view) placeOf(a studio.Anchor, l *listened) string {
	if v.Told {
		return ""
	}
	return anchorInWords(a, l)
}

// anchorInWords is "bar 3, the F♯, at 0:12".
func anchorInWords(a studio.Anchor, l *listened) string {
	var parts []string
	if a.Bar != "" {
		parts = append(parts, "bar "+a.Bar)
	}
	if a.Note != "" && l != nil {
		for _, n := range l.hearing.Score {
			if n.ID == a.Note {
				parts = append(parts, "the "+findings.Sign(n.Name))
			}
		}
	}
	if a.Frame != nil {
		parts = append(parts, "the picture")
	}
	return strings.Join(append(parts, "at "+page.Clock(a.AtS)), ", ")
}

func (v *view) corrections(l *listened) {
	for _, x := range l.fixes {
		v.Corrections = append(v.Corrections, correctionView{ID: x.ID, Say: x.say, Undo: true})
	}
}
