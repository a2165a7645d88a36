package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"antiphon/internal/ear"
	"antiphon/internal/media"
	"antiphon/internal/music"
	"antiphon/internal/rehearse"
)

// A confidence so high is taken for an answer.
const answered = 0.5

// likenessRow is how often the ear knew what takes of one manner are of.
type likenessRow struct {
	takes, first, three int // of works of the shelf: right at first place, among the first three
	said, saidRight     int // an answer given with confidence, and right
	strangers, none     int // takes of none of the works, and known to be
	belief              float64
}

func (r *likenessRow) add(g rehearse.Guest, res ear.Resemblance) {
	place := slices.IndexFunc(res.Likely, func(k ear.Likeness) bool { return k.Score == g.Work })
	if g.Work < 0 {
		r.strangers++
		if len(res.Likely) == 0 || res.Likely[0].Confidence < answered {
			r.none++
		}
	} else {
		r.takes++
		if place == 0 {
			r.first++
		}
		if place >= 0 && place < 3 {
			r.three++
		}
	}
	if len(res.Likely) > 0 && res.Likely[0].Confidence >= answered {
		r.said++
		r.belief += res.Likely[0].Confidence
		if place == 0 {
			r.saidRight++
		}
	}
}

// recognition is how often the ear knew what takes are of, all in all and by manner.
type recognition struct {
	all                   likenessRow
	rows                  map[string]*likenessRow
	soundS, listenS, askS float64
}

// likeness renders takes of a hundred works and of others, asks what each sounds like, and gives the table.
func likeness(o options, banks *rehearse.Banks) (string, error) {
	recipe := rehearse.ReportSet(o.guests)
	if o.set == "dev" {
		recipe = rehearse.TuneSet(o.guests)
	}
	if o.seed != 0 {
		recipe.Seed = o.seed
	}
	r, err := o.recognise(recipe, banks)
	if err != nil {
		return "", err
	}
	return likenessHeading(o, recipe) + r.table() +
		fmt.Sprintf("\nFor a minute of take, one after the other: listening %.2f s, asking all %d works %.2f s.\n", 60*r.listenS/r.soundS, shelfWorks, 60*r.askS/r.soundS), nil
}

// recognise asks what each take of a recipe sounds like.
func (o options) recognise(recipe rehearse.Recipe, banks *rehearse.Banks) (recognition, error) {
	r := recognition{rows: map[string]*likenessRow{}}
	works, others, err := shelf()
	if err != nil {
		return r, err
	}
	var scores []*music.Score
	for _, w := range works {
		scores = append(scores, w.score)
	}
	repertoire := ear.NewRepertoire(scores)
	dir := filepath.Join(o.out, o.set+"-guests")
	for i, g := range rehearse.Guests(recipe, pieces(works), pieces(others)) {
		fmt.Fprintf(os.Stderr, "\r%d of %d guests ", i+1, recipe.Takes)
		if _, err := rehearse.Render(g.Spec, banks, dir); err != nil {
			return r, err
		}
		pcm, _, err := media.Decode(context.Background(), filepath.Join(dir, "takes", g.ID+"."+g.Codec.Ext), media.Options{})
		if err != nil {
			return r, err
		}
		begun := time.Now()
		l, err := ear.Listen(context.Background(), pcm, nil)
		if err != nil {
			return r, err
		}
		listened := time.Now()
		res, err := l.SoundsLike(context.Background(), repertoire)
		if err != nil {
			return r, err
		}
		r.soundS, r.listenS, r.askS = r.soundS+pcm.Seconds(), r.listenS+listened.Sub(begun).Seconds(), r.askS+time.Since(listened).Seconds()
		if manner := g.Tags[1]; r.rows[manner] == nil {
			r.rows[manner] = &likenessRow{}
		}
		r.rows[g.Tags[1]].add(g, res)
		r.all.add(g, res)
		if o.verbose {
			fmt.Println(guestLine(g, res, works))
		}
	}
	fmt.Fprintln(os.Stderr)
	return r, nil
}

func likenessHeading(o options, r rehearse.Recipe) string {
	return fmt.Sprintf("%d takes, seed %d, %s set, %s, source %s. Machine: %s. %d works: traditional tunes, studies, and exercises of a few patterns in many keys and over many chords; each take is of another one, in turn.\n\n",
		r.Takes, r.Seed, o.set, time.Now().Format("2 January 2006"), source(), processor(), shelfWorks)
}

func (r recognition) table() string {
	var b strings.Builder
	b.WriteString("| takes | n | right at first place | among the first three | none of these, and known to be |\n|---|---|---|---|---|\n")
	var names []string
	for n := range r.rows {
		names = append(names, n)
	}
	slices.Sort(names)
	line := func(name string, row *likenessRow) {
		fmt.Fprintf(&b, "| %s | %d | %s | %s | %s |\n", name, row.takes+row.strangers, outOf(row.first, row.takes), outOf(row.three, row.takes), outOf(row.none, row.strangers))
	}
	line("all", &r.all)
	for _, n := range names {
		line(n, r.rows[n])
	}
	fmt.Fprintf(&b, "\nAnswers given with a confidence of %.1f and more: %d, %d of them right (%.0f %%); the mean confidence in them was %.0f %%.\n",
		answered, r.all.said, r.all.saidRight, 100*float64(r.all.saidRight)/math.Max(1, float64(r.all.said)), 100*r.all.belief/math.Max(1, float64(r.all.said)))
	return b.String()
}

func outOf(n, of int) string {
	if of == 0 {
		return "–"
	}
	return fmt.Sprintf("%d of %d", n, of)
}

// guestLine is one take for -v.
func guestLine(g rehearse.Guest, res ear.Resemblance, works []shelved) string {
	name := func(i int) string { return works[i].piece.Name }
	truth := "none: " + g.ShownPiece().Name
	if g.Work >= 0 {
		truth = name(g.Work)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%-22s %-22s none %.2f", g.Tags[1], truth, res.None)
	for i, k := range res.Likely {
		if i == 3 {
			break
		}
		fmt.Fprintf(&b, " | %s %+d bars %s-%s %.2f", name(k.Score), k.SoundsHigher, k.FromBar, k.ToBar, k.Confidence)
	}
	return b.String()
}
