// Package captions reads what a person typed or pasted as the words of a film, and writes WebVTT (W3C): the captions
// and the chapters of a film of several parts.
//
// Typed lines without times are spread over the recording, each as long as its letters: it listens to nothing, so
// they are only near the right moment. Styles, places and voices of a pasted file are left out.
package captions

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"html"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Cue is one line of words, in seconds from the start.
type Cue struct {
	FromS, ToS float64
	Text       string // one to three lines
}

// Limits on what is read: a lesson of an hour, spoken fast, has half of it. Our choice.
const (
	mostBytes = 200_000
	mostCues  = 4_000
)

// Errors of Read.
var (
	ErrTooLong = errors.New("more captions than a film has")
	ErrTimes   = errors.New("the times of these captions cannot be read")
)

// Timed says that a text brings its own times: WebVTT, or SubRip as most programs write it.
func Timed(text string) bool { return strings.Contains(text, "-->") }

// Read gives the cues of a text, in order of time: WebVTT, SubRip, or plain lines, which are spread over durationS
// seconds. Plain lines without a duration, or an empty text, give none. The error is ErrTooLong or wraps ErrTimes.
func Read(text string, durationS float64) ([]Cue, error) {
	text = strings.ReplaceAll(strings.ToValidUTF8(strings.TrimPrefix(text, "\ufeff"), ""), "\r\n", "\n")
	if len(text) > mostBytes {
		return nil, ErrTooLong
	}
	if !Timed(text) {
		return spread(text, durationS)
	}
	cues, err := timed(strings.Split(text, "\n"))
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(cues, func(a, b Cue) int { return cmp.Compare(a.FromS, b.FromS) })
	return cues, nil
}

// timing is the line above the words: hours may be missing, and SubRip writes a comma before the milliseconds.
var timing = regexp.MustCompile(`^\s*((?:\d{1,4}:)?\d{1,2}:\d{2}[.,]\d{1,3})\s*-->\s*((?:\d{1,4}:)?\d{1,2}:\d{2}[.,]\d{1,3})(?:\s.*)?$`)

// tag is markup in the words: <b>, <v Mira>, <00:01.000>, {\an8}.
var tag = regexp.MustCompile(`<[^>]*>|\{\\[^}]*\}`)

func timed(lines []string) ([]Cue, error) {
	var cues []Cue
	for i := 0; i < len(lines); i++ {
		if !strings.Contains(lines[i], "-->") {
			continue // the head, a note, a cue's name or number
		}
		m := timing.FindStringSubmatch(lines[i])
		if m == nil {
			return nil, fmt.Errorf("%w: line %d", ErrTimes, i+1)
		}
		c := Cue{FromS: seconds(m[1]), ToS: seconds(m[2])}
		var words []string
		for i++; i < len(lines) && strings.TrimSpace(lines[i]) != ""; i++ {
			if strings.Contains(lines[i], "-->") { // the next cue, without a free line before it
				i--
				break
			}
			if s := oneLine(html.UnescapeString(tag.ReplaceAllString(lines[i], ""))); s != "" {
				words = append(words, s)
			}
		}
		if c.Text = strings.Join(words, "\n"); c.Text != "" && c.ToS > c.FromS {
			cues = append(cues, c)
		}
		if len(cues) > mostCues {
			return nil, ErrTooLong
		}
	}
	if len(cues) == 0 {
		return nil, fmt.Errorf("%w: there is no line between two times", ErrTimes)
	}
	return cues, nil
}

// seconds of [hours:]minutes:seconds.thousandths, which timing has matched.
func seconds(s string) float64 {
	whole, part, _ := strings.Cut(strings.Replace(s, ",", ".", 1), ".")
	n := 0
	for f := range strings.SplitSeq(whole, ":") {
		v, _ := strconv.Atoi(f) // four digits at most
		n = 60*n + v
	}
	ms, _ := strconv.Atoi((part + "00")[:3])
	return float64(n) + float64(ms)/1000
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func spread(text string, durationS float64) ([]Cue, error) {
	var lines []string
	letters := 0
	for l := range strings.SplitSeq(text, "\n") {
		if l = oneLine(l); l != "" {
			lines = append(lines, l)
			letters += utf8.RuneCountInString(l)
		}
	}
	if len(lines) > mostCues {
		return nil, ErrTooLong
	}
	if !(durationS > 0) || math.IsInf(durationS, 0) {
		return nil, nil
	}
	var cues []Cue
	said := 0
	for _, l := range lines {
		from := durationS * float64(said) / float64(letters)
		said += utf8.RuneCountInString(l)
		cues = append(cues, Cue{from, durationS * float64(said) / float64(letters), l})
	}
	return cues, nil
}

// Shift puts cues into a longer film, byS seconds later and never beyond untilS. What begins after it is left out.
func Shift(cues []Cue, byS, untilS float64) []Cue {
	var out []Cue
	for _, c := range cues {
		c.FromS, c.ToS = c.FromS+byS, min(c.ToS+byS, untilS)
		if c.FromS < c.ToS {
			out = append(out, c)
		}
	}
	return out
}

// Write writes cues as WebVTT. Without a cue it writes an empty file, which is valid.
func Write(w io.Writer, cues []Cue) error {
	b := bufio.NewWriter(w)
	fmt.Fprint(b, "WEBVTT\n") // the error stays in b until Flush
	for _, c := range cues {
		from, to := stamp(c.FromS), stamp(c.ToS)
		var words []string
		for l := range strings.SplitSeq(c.Text, "\n") {
			if l = oneLine(l); l != "" {
				words = append(words, escape.Replace(l))
			}
		}
		if len(words) > 0 && from != to {
			fmt.Fprintf(b, "\n%s --> %s\n%s\n", from, to, strings.Join(words, "\n"))
		}
	}
	return b.Flush()
}

var escape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

func stamp(s float64) string {
	ms := 0
	if s > 0 && s < 1e7 {
		ms = int(math.Round(s * 1000))
	}
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3_600_000, ms/60_000%60, ms/1000%60, ms%1000)
}
