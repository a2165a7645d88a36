// Package remedies is the book of remedies: for a symptom that is heard, seen or told, the likely
// causes in the hands with a check for each, what to do at home with minutes, the cautions, and when
// to ask somebody.
//
// It offers; the teacher decides. It makes no diagnosis: where something hurts it says to stop and
// to ask a qualified person. A teacher's own words replace the printed ones entry by entry and field
// by field; the printed book is never changed by that.
package remedies

import (
	"cmp"
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"unicode"
)

// Texture is how the notes of a place lie in the hands.
type Texture string

// The textures.
const (
	Scale    Texture = "scale"    // single notes that move
	Chords   Texture = "chords"   // three or more notes at once
	Arpeggio Texture = "arpeggio" // a chord one string after another
	Tremolo  Texture = "tremolo"  // one note quickly repeated by the fingers
	Voices   Texture = "voices"   // a melody with a bass of its own
)

// Sign says how a symptom comes to notice.
type Sign string

// The signs.
const (
	Heard Sign = "heard" // by the ear; findings lead to it
	Seen  Sign = "seen"  // on a video or in the room
	Told  Sign = "told"  // by the child or the parent
)

// CommonPractice is the source of an entry that has no published one.
const CommonPractice = "common practice, no source"

// Entry is one remedy. In JSON, as the printed book and a teacher's own words have it, the keys are
// those named below.
type Entry struct {
	ID       string   `json:"id"`                 // "late-thumb": small letters, digits and hyphens
	Symptom  string   `json:"symptom"`            // in a teacher's words
	Parent   string   `json:"parent"`             // the same for somebody who reads no music
	Sign     Sign     `json:"sign"`               // heard, seen or told
	Hands    bool     `json:"hands"`              // concerns the body: then there are cautions
	Applies  Applies  `json:"applies"`            // what leads here
	Causes   []Cause  `json:"causes"`             // likeliest first
	Do       []Step   `json:"do"`                 // in this order
	Cautions []string `json:"cautions,omitempty"` // when to stop, what not to do
	Ask      string   `json:"ask"`                // when to ask somebody, and whom
	Remark   string   `json:"remark"`             // two or three sentences to send as they are
	Source   string   `json:"source"`             // CommonPractice, or what was published
	Hidden   bool     `json:"hidden,omitempty"`   // the teacher does not want it offered

	Own bool `json:"-"` // some of it is in the teacher's own words
}

// Applies says what an entry is for. An empty list means any. An entry that names textures, strings,
// fingers or skills is not offered where those are known and are others.
type Applies struct {
	Findings []string  `json:"findings,omitempty"` // kinds, or kind/aspect: "missed-note/bass"
	Textures []Texture `json:"textures,omitempty"`
	Strings  []int     `json:"strings,omitempty"` // 1 is the highest
	Fingers  []string  `json:"fingers,omitempty"` // 0 to 4, p i m a
	Skills   []string  `json:"skills,omitempty"`  // as package difficulty names them: "shifting"
}

// Cause is one likely cause with how to tell it from the others.
type Cause struct {
	Cause string `json:"cause"`
	Check string `json:"check"` // by eye or by ear
}

// Step is one thing to do that a parent can carry out.
type Step struct {
	Do      string `json:"do"`
	Minutes int    `json:"minutes"` // a day; 0 where it takes no time of its own
}

// Book holds entries in printed order; a teacher's additions come last.
type Book struct {
	entries []Entry
	at      map[string]int
}

//go:embed book/*.json
var printed embed.FS

// Printed is the book as it comes. An error means that the program was built wrong.
func Printed() (*Book, error) { return read(printed) }

func read(fsys fs.FS) (*Book, error) {
	files, err := fs.Glob(fsys, "book/*.json")
	if err != nil {
		return nil, err
	}
	b := &Book{at: map[string]int{}}
	for _, file := range files {
		data, err := fs.ReadFile(fsys, file)
		if err != nil {
			return nil, err
		}
		var page []Entry
		if err := strict(data, &page); err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		for _, e := range page {
			if e.Source == "" {
				e.Source = CommonPractice
			}
			if say := wrong(e); say != "" {
				return nil, fmt.Errorf("%s: %s: %s", file, e.ID, say)
			}
			if _, twice := b.at[e.ID]; twice {
				return nil, fmt.Errorf("%s: %s is in the book twice", file, e.ID)
			}
			b.at[e.ID] = len(b.entries)
			b.entries = append(b.entries, e)
		}
	}
	return b, nil
}

// Entries are all entries in order, hidden ones included.
func (b *Book) Entries() []Entry { return slices.Clone(b.entries) }

// Entry finds one by its id.
func (b *Book) Entry(id string) (Entry, bool) {
	i, ok := b.at[id]
	if !ok {
		return Entry{}, false
	}
	return b.entries[i], true
}

// Look finds entries by words that a person types, the best first: every word must begin a word of
// the entry's symptom, causes or id. No words give the whole book without what is hidden.
func (b *Book) Look(typed string) []Entry {
	want := words(typed)
	type hit struct {
		e     Entry
		score int
	}
	var hits []hit
	for _, e := range b.entries {
		if e.Hidden {
			continue
		}
		title := words(e.ID + " " + e.Symptom)
		rest := words(e.Parent)
		for _, c := range e.Causes {
			rest = append(rest, words(c.Cause)...)
		}
		h := hit{e: e}
		for _, w := range want {
			switch {
			case begins(title, w):
				h.score += 3
			case begins(rest, w):
				h.score++
			default:
				h.score = -1
			}
			if h.score < 0 {
				break
			}
		}
		if h.score >= 0 {
			hits = append(hits, h)
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int { return cmp.Compare(b.score, a.score) })
	out := make([]Entry, len(hits))
	for i, h := range hits {
		out[i] = h.e
	}
	return out
}

func words(s string) []string {
	return strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}

func begins(all []string, with string) bool {
	return slices.ContainsFunc(all, func(w string) bool { return strings.HasPrefix(w, with) })
}
