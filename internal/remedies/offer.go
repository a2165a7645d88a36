package remedies

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"antiphon/internal/findings"
)

// Context is what is known of the place besides the finding. What is not known stays nil or empty.
type Context struct {
	Texture Texture
	Strings []int    // of the notes concerned
	Fingers []string // of both hands: 0 to 4, p i m a
	Skills  []string // that the place needs; not nil but empty: known to need none
	Hurt    bool     // the family said that something hurt
}

// Offer is an entry with why it is offered here.
type Offer struct {
	Entry Entry
	Rank  float64 // higher is likelier; only for the order
	Why   string  // one sentence
}

// Our choice, no source: what the ear heard says most, then which finger, then the rest.
const (
	rankKind    = 1.0
	rankAspect  = 1.0
	rankFinger  = 0.8
	rankTexture = 0.6
	rankSkill   = 0.6
	rankString  = 0.4
	rankUnknown = -0.3 // the entry is for something that is not known of this place
	rankOrder   = 0.02 // an entry names the finding that it is most about first
	rankHurt    = 10.0
)

// For offers entries for a finding, the likeliest first. Every kind of finding has at least one
// entry in the printed book; a teacher may have hidden it.
func (b *Book) For(f findings.Finding, c Context) []Offer {
	var out []Offer
	for _, e := range b.entries {
		if e.Hidden {
			continue
		}
		if o, ok := offer(e, f, c); ok {
			out = append(out, o)
		}
	}
	if c.Hurt {
		for _, e := range b.Hurt() {
			out = slices.DeleteFunc(out, func(o Offer) bool { return o.Entry.ID == e.ID })
			out = append(out, Offer{Entry: e, Rank: rankHurt, Why: "The family says that something hurt: this comes first."})
		}
	}
	slices.SortStableFunc(out, func(a, b Offer) int { return cmp.Compare(b.Rank, a.Rank) })
	return out
}

// Hurt are the entries for a take that comes with "something hurt".
func (b *Book) Hurt() []Entry {
	var out []Entry
	for _, e := range b.entries {
		if e.Sign == Told && e.Hands && !e.Hidden {
			out = append(out, e)
		}
	}
	return out
}

func offer(e Entry, f findings.Finding, c Context) (Offer, bool) {
	o := Offer{Entry: e}
	why := ""
	for i, name := range e.Applies.Findings {
		kind, aspect, fine := strings.Cut(name, "/")
		if findings.Kind(kind) != f.Kind || fine && aspect != f.Aspect {
			continue
		}
		rank := rankKind - rankOrder*float64(i)
		if fine {
			rank += rankAspect
		}
		if rank > o.Rank {
			o.Rank, why = rank, f.InWords()
		}
	}
	if why == "" {
		return o, false
	}
	reasons := []string{why}
	for _, x := range []struct {
		named bool // by the entry
		known bool // of the place
		meet  string
		rank  float64
	}{
		{len(e.Applies.Textures) > 0, c.Texture != "", meetTexture(e.Applies.Textures, c.Texture), rankTexture},
		{len(e.Applies.Fingers) > 0, len(c.Fingers) > 0, meet(e.Applies.Fingers, c.Fingers, "finger %s"), rankFinger},
		{len(e.Applies.Strings) > 0, len(c.Strings) > 0, meet(e.Applies.Strings, c.Strings, "string %d"), rankString},
		{len(e.Applies.Skills) > 0, c.Skills != nil, meet(e.Applies.Skills, c.Skills, "the place needs: %s"), rankSkill},
	} {
		switch {
		case !x.named:
		case !x.known:
			o.Rank += rankUnknown
		case x.meet == "":
			return o, false
		default:
			o.Rank += x.rank
			reasons = append(reasons, x.meet)
		}
	}
	o.Why = "Offered for: " + strings.Join(reasons, "; ") + "."
	return o, true
}

func meetTexture(of []Texture, t Texture) string {
	if !slices.Contains(of, t) {
		return ""
	}
	if t == Voices {
		return "melody with bass"
	}
	return string(t)
}

// meet is the first thing that both lists have, in words; "" none.
func meet[T comparable](of, there []T, format string) string {
	for _, v := range of {
		if slices.Contains(there, v) {
			return fmt.Sprintf(format, v)
		}
	}
	return ""
}
