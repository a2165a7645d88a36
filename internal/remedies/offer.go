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
	Strings []int           // of the notes concerned
	Fingers []string        // of both hands: 0 to 4, p i m a; a hand of which none is named is not known
	Skills  map[string]bool // by name: whether the place needs it; what is not known is not there
	Hurt    bool            // the family said that something hurt
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
	rankUnheard = -0.3 // what is seen or told can only be guessed at from a recording
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
	if e.Sign != Heard {
		o.Rank += rankUnheard
	}
	skillKnown, skillMet := skills(e.Applies.Skills, c.Skills)
	for _, x := range []struct {
		named bool // by the entry
		known bool // of the place
		meet  string
		rank  float64
	}{
		{len(e.Applies.Textures) > 0, c.Texture != "", meetTexture(e.Applies.Textures, c.Texture), rankTexture},
		{len(e.Applies.Fingers) > 0, knowsHand(e.Applies.Fingers, c.Fingers), meet(e.Applies.Fingers, c.Fingers, "finger %s"), rankFinger},
		{len(e.Applies.Strings) > 0, len(c.Strings) > 0, meet(e.Applies.Strings, c.Strings, "string %d"), rankString},
		{len(e.Applies.Skills) > 0, skillKnown, skillMet, rankSkill},
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

// skills says whether it is known that the place needs one of these, or needs none of them, and which.
func skills(of []string, need map[string]bool) (known bool, met string) {
	known = true
	for _, s := range of {
		needed, told := need[s]
		if needed {
			return true, "the place needs: " + s
		}
		known = known && told
	}
	return known, ""
}

// knowsHand reports whether a finger of the same hand as one of these is named.
func knowsHand(of, there []string) bool {
	left := func(f string) bool { return f >= "0" && f <= "4" }
	return slices.ContainsFunc(of, func(f string) bool {
		return slices.ContainsFunc(there, func(g string) bool { return left(f) == left(g) })
	})
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
