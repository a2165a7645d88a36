package practice

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"antiphon/internal/music"
	"antiphon/internal/sound"
	"antiphon/internal/studio"
)

// longestSound keeps one page from taking the machine.
const longestSound = 8 * time.Minute

// soundAddress is where the tune sounds at a tempo in quarter notes a minute, or the second part.
func soundAddress(child studio.StudentID, of studio.AssignmentID, bpm float64, second bool) string {
	q := url.Values{"child": {string(child)}, "bpm": {strconv.FormatFloat(rounded(bpm), 'f', -1, 64)}}
	if second {
		q.Set("second", "yes")
	}
	return (&url.URL{Path: "/week/sound/" + string(of), RawQuery: q.Encode()}).String()
}

// Second is where the part beside the child sounds by itself, for recording with it, at a tempo in quarter notes
// a minute: with its mark, so that a recorder knows the child's first beat to the sample. "" where the tool plays
// no part.
func Second(child studio.StudentID, a studio.Assignment, bpm float64) (address string) {
	if (asked{Assignment: a}).byTool() && a.Work != "" && bpm > 0 {
		return soundAddress(child, a.ID, bpm, true)
	}
	return ""
}

// sound plays what an assignment asks. GET /week/sound/{assignment} with child, bpm in quarter notes a minute
// ("" as asked), from and to (bars as printed; "" the passage), click, second (the part beside the child, alone)
// and plain (without the mark, from the child's first beat). AAC; see sound.MarkLeadS for where it begins.
func (p *Practice) sound(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	a, err := p.find(r, studio.StudentID(q.Get("child")), studio.AssignmentID(r.PathValue("assignment")))
	if err != nil {
		return err
	}
	if a.Score == nil {
		return errNotHere
	}
	play, err := playing(a, q)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(fmt.Append(nil, a.Work.Score, "\n", play))
	w.Header().Set("Cache-Control", "private, no-cache") // who may hear it is asked each time
	return p.sounds.Serve(w, r, hex.EncodeToString(sum[:12]), func(ctx context.Context) (*sound.Audio, error) {
		return play.render(ctx, a.Score)
	})
}

// play is one sound as it is asked for. It is a plain value: its text is the key under which it is kept.
type play struct {
	Bpm      float64 // in the score's own beat
	From, To string
	Part     string // alone; "" all
	But      string // the part that is left out; "" none
	Click    bool
	Plain    bool
	LaterBy  int // bars before it enters; 0 at once
}

func playing(a asked, q url.Values) (play, error) {
	bpm := a.goalBpm()
	if text := q.Get("bpm"); text != "" {
		var err error
		if bpm, err = strconv.ParseFloat(text, 64); err != nil || !(bpm >= slowestBpm && bpm <= fastestBpm) {
			return play{}, &studio.Problem{Kind: studio.Invalid, Say: "The page sent something that makes no sense. Load it again."}
		}
	}
	o := play{Bpm: rounded(bpm) / a.Beat, From: a.FromBar, To: a.ToBar, Click: q.Get("click") != "", Plain: q.Get("plain") != ""}
	if q.Get("from") != "" || q.Get("to") != "" {
		o.From, o.To = q.Get("from"), q.Get("to")
	}
	second := q.Get("second") != ""
	switch {
	case second && !a.byTool():
		return play{}, errNotHere
	case second && a.asRound():
		o.LaterBy = max(a.Second.AfterBars, 1)
	case second:
		o.Part = a.Second.Part
	case a.Second.Kind == studio.SecondPart:
		o.But = a.Second.Part
	}
	return o, nil
}

func (o play) render(ctx context.Context, s *music.Score) (*sound.Audio, error) {
	opt := sound.Options{Bpm: o.Bpm, Click: o.Click, Mark: !o.Plain, LongestS: longestSound.Seconds()}
	if o.From != "" || o.To != "" {
		opt.Bars = &sound.Loop{From: o.From, To: o.To}
	}
	if o.Part != "" {
		opt.Solo = []string{o.Part}
	}
	if o.But != "" {
		opt.Mute = []string{o.But}
	}
	if o.LaterBy == 0 {
		return sound.Render(ctx, s, opt)
	}
	lay := opt
	lay.EnterAfter = o.LaterBy
	line, err := sound.Lay(s, lay)
	if err != nil {
		return nil, err
	}
	a, err := sound.Render(ctx, s, opt)
	if err != nil {
		return nil, err
	}
	a.Wait(line.EntryS)
	return a, nil
}
