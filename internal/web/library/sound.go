package library

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"antiphon/internal/sound"
	"antiphon/internal/web/page"
)

// The tempos that a page offers, in beats a minute.
const (
	slowestBpm = 20
	fastestBpm = 300
)

// longestSound keeps one page from taking the machine: half an hour would take 2.4 GB.
const longestSound = 8 * time.Minute

// sound plays a work, or a passage of it. GET /library/works/{work}/sound
func (l *library) sound(w http.ResponseWriter, r *http.Request) error {
	one, err := l.desk().Work(r.Context(), page.Viewer(r), workID(r))
	if err != nil {
		return err
	}
	opt, err := soundOptions(r.URL.Query())
	if err != nil {
		return err
	}
	s, err := scoreOf(one)
	if err != nil {
		return err
	}
	if opt.Loop != nil { // said before the work begins
		first, last, err := barsOf(s, opt.Loop.From, opt.Loop.To)
		if err != nil {
			return err
		}
		opt.Loop.From, opt.Loop.To = s.Bars[first].Number, s.Bars[last].Number
	}
	key := sum(fmt.Sprint(one.Score, "\n", opt.Bpm, opt.Click, opt.CountIn, opt.Loop))
	return l.sounds.Serve(w, r, key, func(ctx context.Context) (*sound.Audio, error) { return sound.Render(ctx, s, opt) })
}

func soundOptions(q url.Values) (sound.Options, error) {
	opt := sound.Options{Click: q.Get("click") != "", LongestS: longestSound.Seconds()}
	if text := q.Get("bpm"); text != "" {
		bpm, err := strconv.ParseFloat(text, 64)
		if err != nil || !(bpm >= slowestBpm && bpm <= fastestBpm) {
			return opt, invalid("%s is no tempo. Give %d to %d beats a minute.", clipped(text, 12), slowestBpm, fastestBpm)
		}
		opt.Bpm = roundTo(bpm, 1)
	}
	from, to := q.Get("from"), q.Get("to")
	if from != "" || to != "" {
		opt.Loop = &sound.Loop{From: from, To: to}
	} else if opt.Click {
		opt.CountIn = 1
	}
	return opt, nil
}

func roundTo(v float64, places int) float64 {
	p := math.Pow10(places)
	return math.Round(v*p) / p
}
