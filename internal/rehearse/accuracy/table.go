package main

import (
	"fmt"
	"math"
	"os"
	"slices"
	"sort"
	"strings"

	"antiphon/internal/rehearse"
)

// groups sorts takes into rows: all that were played from a score, each kind, each condition, and
// playing that was written down afterwards.
func groups(t rehearse.Truth) []string {
	switch t.Tags[0] {
	case "other":
		return []string{"something else"}
	case "real":
		return []string{"as played, all", "as played, " + t.Tags[2]}
	}
	rows := []string{"all", t.Tags[0]}
	if slices.Contains(t.Tags, "plain") {
		rows = append(rows, "plainly played")
	} else {
		rows = append(rows, "trying")
	}
	for _, tag := range t.Tags[1:] {
		switch tag {
		case "clean", "errors", "restart", "noise", "rounds":
			rows = append(rows, "· "+tag)
		}
	}
	return rows
}

// sheet adds marks up by row.
type sheet map[string]*rehearse.Marks

func (s sheet) add(rows []string, m rehearse.Marks) {
	for _, r := range rows {
		if s[r] == nil {
			s[r] = &rehearse.Marks{}
		}
		s[r].Add(m)
	}
}

func (s sheet) rows() []string {
	rank := func(r string) int {
		switch {
		case r == "all", r == "plainly played", r == "trying":
			return 0
		case strings.HasPrefix(r, "·"):
			return 2
		case r == "as played, all":
			return 3
		case strings.HasPrefix(r, "as played"):
			return 4
		case r == "something else":
			return 5
		}
		return 1
	}
	var rows []string
	for r := range s {
		rows = append(rows, r)
	}
	sort.Slice(rows, func(i, j int) bool {
		if a, b := rank(rows[i]), rank(rows[j]); a != b {
			return a < b
		}
		return rows[i] < rows[j]
	})
	return rows
}

func share(n, of int) string {
	if of == 0 {
		return "–"
	}
	return fmt.Sprintf("%.3f", float64(n)/float64(of))
}

func number(format string, v float64) string {
	if math.IsNaN(v) {
		return "–"
	}
	return fmt.Sprintf(format, v)
}

// counts are those found, those there were, and those reported.
func counts(c rehearse.Counts) string { return fmt.Sprintf("%d/%d/%d", c.Found, c.True, c.Reported) }

// table is the ear's own table.
func (s sheet) table() string {
	var b strings.Builder
	b.WriteString("| takes | n | notes F1 ±50 ms | ±25 ms | aligned ≤ 50 ms | onset median / 95 % | errors P / R | wrong · missed · extra (found/true/reported) | jumps F1 | clean, none accused | tempo median | × real time |\n|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	for _, row := range s.rows() {
		m := s[row]
		if m.Other > 0 {
			fmt.Fprintf(&b, "| %s | %d | recognised as not this score: %d of %d | | | | | | | | | %.0f |\n", row, m.Takes, m.OtherKnown, m.Other, m.AudioS/m.WallS)
			continue
		}
		e := m.Errors()
		fmt.Fprintf(&b, "| %s | %d | %.3f | %.3f | %s | %s / %s ms | %.2f / %.2f | %s · %s · %s | %.2f (%s) | %d of %d | %s | %.0f |\n",
			row, m.Takes, m.Notes50.F1(), m.Notes25.F1(), share(m.Aligned50, m.AlignedOf),
			number("%.1f", 1000*rehearse.Quantile(m.OnsetErrS, 0.5)), number("%.1f", 1000*rehearse.Quantile(m.OnsetErrS, 0.95)),
			e.Precision(), e.Recall(), counts(m.Wrong), counts(m.Missed), counts(m.Extra), m.Jumps.F1(), counts(m.Jumps), m.CleanUnaccused, m.Clean,
			number("%.2f %%", 100*rehearse.Quantile(m.TempoErr, 0.5)), m.AudioS/m.WallS)
	}
	for _, row := range s.rows() {
		if row == "all" || row == "as played, all" || row == "something else" {
			for _, f := range s[row].Failed {
				fmt.Fprintf(&b, "\nfailed: %s\n", f)
			}
		}
	}
	return b.String()
}

// peerTable puts the ear beside the others, row by row.
func peerTable(own sheet, others []peer, theirs []sheet) string {
	var b strings.Builder
	b.WriteString("| takes | measure | the ear |")
	for _, p := range others {
		b.WriteString(" " + p.name + " |")
	}
	b.WriteString("\n|---|---|---|" + strings.Repeat("---|", len(others)) + "\n")
	measures := []struct {
		name  string
		value func(m *rehearse.Marks) string
		kinds string
	}{
		{"notes F1 ±50 ms", func(m *rehearse.Marks) string { return fmt.Sprintf("%.3f", m.Notes50.F1()) }, "notes"},
		{"onsets F1 ±50 ms", func(m *rehearse.Marks) string { return fmt.Sprintf("%.3f", m.Onsets50.F1()) }, "onsets notes"},
		{"score notes ≤ 50 ms", func(m *rehearse.Marks) string { return share(m.Aligned50, m.AlignedOf) }, "places"},
		{"onset error, median", func(m *rehearse.Marks) string {
			return number("%.1f ms", 1000*rehearse.Quantile(m.OnsetErrS, 0.5))
		}, "places"},
		{"× real time", func(m *rehearse.Marks) string { return fmt.Sprintf("%.0f", m.AudioS/m.WallS) }, "onsets notes places"},
	}
	for _, row := range own.rows() {
		if strings.HasPrefix(row, "something") || strings.HasPrefix(row, "·") {
			continue
		}
		for _, me := range measures {
			if row != "all" && row != "as played, all" && (me.name == "× real time" || me.name == "onset error, median") {
				continue
			}
			fmt.Fprintf(&b, "| %s | %s | %s |", row, me.name, me.value(own[row]))
			for i, p := range others {
				v := "–"
				if m := theirs[i][row]; m != nil && strings.Contains(me.kinds, p.tells) {
					v = me.value(m)
				}
				b.WriteString(" " + v + " |")
			}
			b.WriteString("\n")
		}
	}
	return b.String()
}

// The tables stand between lines of docs/measured.md that name their section; the rest of the page is written
// by hand.
const (
	accuracySection = "accuracy"
	likenessSection = "likeness"
)

func marks(section string) (begin, end string) {
	return "<!-- " + section + ": written by make accuracy -->", "<!-- " + section + ": end -->"
}

// writeInto replaces what stands between the marks of a section of a page, or adds it at the end.
func writeInto(page, section, text string) error {
	old, err := os.ReadFile(page)
	if err != nil && !os.IsNotExist(err) {
		return err
	}
	body := string(old)
	begin, end := marks(section)
	block := begin + "\n" + text + end + "\n"
	from, to := strings.Index(body, begin), strings.Index(body, end)
	if from >= 0 && to > from {
		body = body[:from] + block + strings.TrimPrefix(body[to+len(end):], "\n")
	} else {
		if body == "" {
			body = "# What was measured\n"
		}
		body += "\n" + block
	}
	return os.WriteFile(page, []byte(body), 0o644)
}
