// Command measure says how well package tone does: it plays scores at places that it knows, on two guitars
// that have nothing in common, records them as phones and messengers do, has the ear hear them, and
// counts, bar by bar, the places played against the places heard. A third guitar is recorded notes, of
// which nobody says where they were plucked: there, what is claimed beyond "over the hole" is counted.
//
// With -page it writes its table into a page, between marks.
package main

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/signal"
	"slices"
	"strings"

	"antiphon/internal/ear"
	"antiphon/internal/music"
	"antiphon/internal/tone"
)

// seed of the takes that are reported; what is set by hand was set on others.
const reported = 471109

func main() {
	seed := flag.Uint64("seed", reported, "draws scores, places and players")
	n := flag.Int("n", 30, "scores, each on every guitar")
	page := flag.String("page", "", "file to write the table into")
	each := flag.Bool("each", false, "print a line for every take")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *seed, *n, *page, *each); err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, seed uint64, n int, page string, each bool) error {
	dir, err := os.MkdirTemp("", "tone-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	all, err := scores(seed, n)
	if err != nil {
		return err
	}
	t := table{seed: seed, scores: n}
	for i, s := range all {
		for g, guitar := range guitars() {
			rng := rand.New(rand.NewPCG(seed, uint64(100*i+g)))
			k, err := hear(ctx, s, guitar, recordings()[(i+2*g)%len(recordings())], i%3 == 2, dir, rng)
			if err != nil {
				return fmt.Errorf("%s on %s: %w", s.Title, guitar.name, err)
			}
			if each {
				fmt.Println(k)
			}
			t.takes = append(t.takes, k)
		}
	}
	text := t.text()
	fmt.Print(text)
	if page == "" {
		return nil
	}
	return intoPage(page, text)
}

// heard is one take with what was made of it.
type heard struct {
	guitar, recording, title string
	known                    bool      // where it was plucked
	unnamed                  bool      // the score does not name strings
	bars                     [3][4]int // by place played and place heard; the last column is not known
	apart                    int       // stretches said to differ from the rest of the take, of a guitar whose place is not known
	clear, of                int
}

func (h heard) String() string {
	return fmt.Sprintf("%-28.28s %-18s %-20s %v, %d of %d notes clear", h.title, h.guitar, h.recording, h.bars, h.clear, h.of)
}

// hear plays a score, records it, hears it and counts.
func hear(ctx context.Context, s *music.Score, g guitar, rec recording, unnamed bool, dir string, rng *rand.Rand) (heard, error) {
	out := heard{guitar: g.name, recording: rec.name, title: s.Title, known: g.font == "", unnamed: unnamed}
	where := plan(len(s.Bars), rng)
	x, rate, err := g.play(ctx, s, where, rng)
	if err != nil {
		return out, err
	}
	pcm, err := rec.pass(ctx, x, rate, dir, rng)
	if err != nil {
		return out, err
	}
	h, err := ear.Hear(ctx, pcm, s, ear.Options{})
	if err != nil {
		return out, err
	}
	if unnamed {
		h.Score = slices.Clone(h.Score)
		for i := range h.Score {
			h.Score[i].String, h.Score[i].Fret = 0, -1
		}
	}
	got, err := tone.Measure(pcm, h, tone.Options{})
	if err != nil {
		return out, err
	}
	out.clear, out.of = got.Notes, got.Of
	for _, st := range got.Stretches {
		for b := st.From; b <= st.To; b++ {
			out.bars[where[b]][slices.Index(columns(), st.Place)]++
		}
		if st.Lean != tone.Same {
			out.apart++
		}
	}
	if len(got.Stretches) == 0 { // too little stood clear: no bar is known
		for _, w := range where {
			out.bars[w][3]++
		}
	}
	return out, nil
}

func columns() []music.Place {
	return []music.Place{music.NearBridge, music.OverHole, music.OverNeck, music.AnyPlace}
}

// intoPage puts the table between its marks.
func intoPage(path, text string) error {
	const from, to = "<!-- tone: written by make tone -->\n", "<!-- tone: end -->"
	old, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	before, rest, ok := strings.Cut(string(old), from)
	_, after, closed := strings.Cut(rest, to)
	if !ok || !closed {
		return fmt.Errorf("%s has no place for the table: put %q and %q where it is to stand", path, strings.TrimSpace(from), to)
	}
	return os.WriteFile(path, []byte(before+from+text+to+after), 0o644)
}
