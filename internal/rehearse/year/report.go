package year

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"antiphon/internal/plan/warn"
)

// Size of a simulation.
type Size struct {
	Students int // for forecasts and warnings
	Keepers  int // of them for what is kept, which takes longest
	Draws    int // of a forecast
}

// Quick is what `make simulate` runs, Full what SIM=full does.
func Quick() Size { return Size{Students: 220, Keepers: 96, Draws: 800} }
func Full() Size  { return Size{Students: 500, Keepers: 500, Draws: 2000} }

// Report is all that came out.
type Report struct {
	Seed     uint64
	Size     Size
	Said     []Said
	Kept     []KeptBy
	Warned   Warned
	Settings Settings
}

// Run simulates a studio.
func Run(s Settings, seed uint64, size Size) (*Report, error) {
	r := &Report{Seed: seed, Size: size, Settings: s}
	r.Said = Forecasts(&r.Settings, seed, size.Students, size.Draws)
	r.Warned = Warnings(&r.Settings, seed, size.Students)
	var err error
	r.Kept, err = Kept(&r.Settings, seed, size.Keepers)
	return r, err
}

// difference of two policies over students: mean, and the ends of its 95 % interval.
func difference(all []KeptBy, a, b Policy) (mean, low, high float64) {
	n := float64(len(all))
	for _, k := range all {
		mean += (k.Share[a] - k.Share[b]) / n
	}
	v := 0.0
	for _, k := range all {
		d := k.Share[a] - k.Share[b] - mean
		v += d * d / max(n-1, 1)
	}
	half := 1.96 * math.Sqrt(v/n)
	return mean, mean - half, mean + half
}

func (r *Report) shareOf(p Policy) float64 {
	sum := 0.0
	for _, k := range r.Kept {
		sum += k.Share[p]
	}
	return sum / float64(len(r.Kept))
}

// Print writes one `name value` a line. kept_gain is against the better of the two other policies, as a share of items;
// crps_gain is against a constant mean rate as the date it gives.
func (r *Report) Print(w io.Writer) error {
	var b strings.Builder
	line := func(name string, v float64) {
		fmt.Fprintf(&b, "%s %s\n", name, strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.4f", v), "0"), "."))
	}
	fmt.Fprintf(&b, "seed %d\nstudents %d\n", r.Seed, r.Size.Students)
	sc := Score(r.Said)
	line("forecasts", float64(sc.Count))
	line("coverage50", sc.In50)
	line("coverage80", sc.In80)
	line("crps_gain", Gain(sc.CRPS, sc.Point))
	line("crps_gain_poisson", Gain(sc.CRPS, sc.Poisson))
	line("crps_weeks", sc.CRPS)
	line("even_spread_p", sc.Even)
	other := Rotation
	if r.shareOf(Newest) > r.shareOf(Rotation) {
		other = Newest
	}
	mean, low, high := difference(r.Kept, Planned, other)
	line("kept_gain", mean)
	line("kept_gain_low", low)
	line("kept_gain_high", high)
	mean, low, _ = difference(r.Kept, Planned, Newest)
	line("kept_gain_newest_first", mean)
	line("kept_gain_newest_first_low", low)
	mean, low, _ = difference(r.Kept, Planned, Rotation)
	line("kept_gain_rotation", mean)
	line("kept_gain_rotation_low", low)
	for _, p := range []Policy{Planned, Rotation, Newest} {
		line("kept_"+name(string(p)), r.shareOf(p))
	}
	longest, calendar, unsaid, within, over, overUnsaid, said := 0, 0, 0, 0, 0, 0, 0
	for _, k := range r.Kept {
		longest, calendar, unsaid = max(longest, k.LongestDays), max(calendar, k.CalendarDays), max(unsaid, k.UnsaidDays)
		for n, is := range map[*int]bool{&over: k.OverLimit > 0, &overUnsaid: k.Unsaid > 0, &said: k.Said} {
			if is {
				*n++
			}
		}
		if k.LongestDays <= r.Settings.Review.LimitDays {
			within++
		}
	}
	line("longest_silence_days", float64(longest))
	line("silence_limit_days", float64(r.Settings.Review.LimitDays))
	line("silence_within_limit_share", float64(within)/float64(len(r.Kept)))
	line("longest_silence_with_absence_days", float64(calendar))
	line("longest_silence_unsaid_days", float64(unsaid))
	line("silence_over_limit_students", float64(over))
	line("silence_over_limit_unsaid_students", float64(overUnsaid))
	line("limit_said_not_to_reach_students", float64(said))
	line("brier_skill", r.Warned.Skill())
	r.apart(line)
	for _, x := range warn.Reliability(r.Warned.Said, r.Warned.Came) {
		fmt.Fprintf(&b, "reliability_%.0f_%.0f said %.3f came %.3f of %d\n", x.From*100, x.To*100, x.Mean, x.Came, x.Count)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func name(s string) string { return strings.ReplaceAll(s, "-", "_") }

// apart reports each law and each habit.
func (r *Report) apart(line func(string, float64)) {
	for _, h := range r.Settings.Habits {
		var said []Said
		for _, e := range r.Said {
			if e.Habit == h.Name {
				said = append(said, e)
			}
		}
		if len(said) > 0 {
			sc := Score(said)
			line("coverage50_"+name(h.Name), sc.In50)
			line("coverage80_"+name(h.Name), sc.In80)
			line("crps_gain_"+name(h.Name), Gain(sc.CRPS, sc.Point))
		}
		var w Warned
		for i, x := range r.Warned.Habits {
			if x == h.Name {
				w.Said, w.Came = append(w.Said, r.Warned.Said[i]), append(w.Came, r.Warned.Came[i])
			}
		}
		if slices.Contains(w.Came, 1) {
			line("brier_skill_"+name(h.Name), w.Skill())
		}
	}
	for _, l := range r.Settings.Laws {
		var kept []KeptBy
		for _, k := range r.Kept {
			if k.Law == l.Name {
				kept = append(kept, k)
			}
		}
		if len(kept) < 2 {
			continue
		}
		mean, low, _ := difference(kept, Planned, Rotation)
		line("kept_gain_rotation_"+name(l.Name), mean)
		line("kept_gain_rotation_low_"+name(l.Name), low)
		mean, _, _ = difference(kept, Planned, Newest)
		line("kept_gain_newest_first_"+name(l.Name), mean)
	}
}
