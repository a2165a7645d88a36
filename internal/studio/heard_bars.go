package studio

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
)

// HeardBars is what a hearing says bar by bar, so that a stretch of a work can be followed over years without reading
// hearings: lists of one length, in the order of the score. Bars that were not played are not in them.
type HeardBars struct {
	Bar     []string  `json:"b"` // as printed
	Written []int     `json:"w"` // notes that were to be played there; a bar played twice counts twice
	Right   []int     `json:"r"`
	Stops   []int     `json:"s,omitempty"` // times the playing broke off there; none: nowhere
	Told    []int     `json:"t,omitempty"` // findings about that place; none: nowhere
	Bpm     []float64 `json:"q,omitempty"` // quarter notes a minute; 0 not known
}

// longestPlace is how many bars a finding may be about and still be about a place: our choice.
const longestPlace = 4

// barsDoc is what is read of a hearing for that.
type barsDoc struct {
	Score struct {
		Notes []struct {
			ID  string `json:"id"`
			Bar string `json:"bar"`
		} `json:"notes"`
	} `json:"score"`
	Jumps []struct {
		Kind    string `json:"kind"`
		FromBar string `json:"from_bar"`
	} `json:"jumps"`
	Played []struct {
		Note    *string `json:"note"`
		Verdict string  `json:"verdict"`
	} `json:"played"`
	Missed []struct {
		Note string `json:"note"`
	} `json:"missed"`
	Tempo struct {
		BeatUnitQ float64 `json:"beat_unit_q"`
		Curve     []struct {
			Bar string  `json:"bar"`
			Bpm float64 `json:"bpm"`
		} `json:"curve"`
	} `json:"tempo"`
	Findings []struct {
		FromBar    *string `json:"from_bar"`
		ToBar      *string `json:"to_bar"`
		Confidence float64 `json:"confidence"`
		Well       bool    `json:"well"`
	} `json:"findings"`
}

// barsIn counts a hearing bar by bar; without a bar where nothing of the score was played.
func barsIn(doc []byte) (HeardBars, error) {
	var d barsDoc
	if err := json.Unmarshal(doc, &d); err != nil {
		return HeardBars{}, fmt.Errorf("counting the bars of a hearing: %w", err)
	}
	type bar struct {
		written, right, stops, told int
		bpm                         []float64
	}
	var order []string
	all, of := map[string]*bar{}, map[string]*bar{} // by its number, by a note in it
	for _, n := range d.Score.Notes {
		b := all[n.Bar]
		if b == nil {
			b = &bar{}
			all[n.Bar], order = b, append(order, n.Bar)
		}
		of[n.ID] = b
	}
	for _, n := range d.Played {
		if n.Note == nil || of[*n.Note] == nil {
			continue
		}
		b := of[*n.Note]
		b.written++
		if n.Verdict == "right" {
			b.right++
		}
	}
	for _, m := range d.Missed {
		if b := of[m.Note]; b != nil {
			b.written++
		}
	}
	for _, j := range d.Jumps {
		if b := all[j.FromBar]; b != nil && j.Kind == "restart" {
			b.stops++
		}
	}
	for _, c := range d.Tempo.Curve {
		if b := all[c.Bar]; b != nil && c.Bpm > 0 {
			b.bpm = append(b.bpm, c.Bpm*max(d.Tempo.BeatUnitQ, 0))
		}
	}
	for _, f := range d.Findings {
		if f.Well || f.Confidence < sureEnough || f.FromBar == nil || f.ToBar == nil {
			continue
		}
		from, to := slices.Index(order, *f.FromBar), slices.Index(order, *f.ToBar)
		if from < 0 || to < from || to-from >= longestPlace {
			continue
		}
		for _, name := range order[from : to+1] {
			all[name].told++
		}
	}
	var out HeardBars
	for _, name := range order {
		b := all[name]
		if b.written == 0 {
			continue
		}
		out.Bar, out.Written, out.Right = append(out.Bar, name), append(out.Written, b.written), append(out.Right, b.right)
		out.Stops, out.Told, out.Bpm = append(out.Stops, b.stops), append(out.Told, b.told), append(out.Bpm, tenth(middleOf(b.bpm)))
	}
	if !slices.ContainsFunc(out.Stops, func(n int) bool { return n > 0 }) {
		out.Stops = nil
	}
	if !slices.ContainsFunc(out.Told, func(n int) bool { return n > 0 }) {
		out.Told = nil
	}
	if !slices.ContainsFunc(out.Bpm, func(x float64) bool { return x > 0 }) {
		out.Bpm = nil
	}
	return out, nil
}

// countBars keeps with a take what its newest hearing says bar by bar.
func countBars(ctx context.Context, tx Records, h Hearing) error {
	var b HeardBars
	if h.JSON != nil {
		// A document of another make may say nothing of its bars: that is no reason to lose the take, nor to try again for ever.
		if counted, err := barsIn(h.JSON); err == nil {
			b = counted
		}
	}
	return tx.PutBars(ctx, OneFamily(h.Studio, h.Family), h.Take, b)
}

// countedAtOnce is how many hearings are counted in one transaction.
const countedAtOnce = 50

// CountBars counts the bars of hearings that were kept before bars were counted, until none is left.
func (d *Desk) CountBars(ctx context.Context, v Viewer) error {
	if err := v.must(itsTheEars, Ear); err != nil {
		return err
	}
	for {
		n := 0
		err := d.store.Within(ctx, func(tx Records) error {
			hs, err := tx.Uncounted(ctx, v.Studio, countedAtOnce)
			if err != nil {
				return err
			}
			for _, h := range hs {
				switch err := countBars(ctx, tx, h); {
				case errors.Is(err, ErrNotFound): // deleted meanwhile
				case err != nil:
					return err
				default:
					n++
				}
			}
			return nil
		})
		if err != nil || n == 0 {
			return problemOf(err)
		}
	}
}

// middleOf is the median; 0 of none.
func middleOf(all []float64) float64 {
	if len(all) == 0 {
		return 0
	}
	all = slices.Sorted(slices.Values(all))
	return all[len(all)/2]
}

// tenth keeps one decimal: more is not heard.
func tenth(x float64) float64 { return float64(int(10*x+0.5)) / 10 }

// whole says that the lists belong together; a row from elsewhere may not be.
func (b *HeardBars) whole() bool {
	n := len(b.Bar)
	fits := func(m int) bool { return m == 0 || m == n }
	return len(b.Written) == n && len(b.Right) == n && fits(len(b.Stops)) && fits(len(b.Told)) && fits(len(b.Bpm))
}

func atOr0[T int | float64](list []T, i int) T {
	if i >= len(list) {
		return 0
	}
	return list[i]
}
