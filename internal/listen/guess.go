package listen

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/media"
	"antiphon/internal/studio"

	"golang.org/x/text/unicode/norm"
)

// guess says whose an unsorted file may be, by its name and by what the ear recognises in it.
func (h *Hands) guess(ctx context.Context, v studio.Viewer, id studio.UnsortedID) error {
	c, err := h.desk.BeginGuess(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	dir, done, err := h.workplace()
	if err != nil {
		return err
	}
	defer done()
	_, f, err := h.desk.OpenUnsorted(ctx, v, id)
	if err != nil {
		return unlessOver(err)
	}
	path, err := fetch(ctx, f, dir)
	if err != nil {
		return err
	}
	likely, why, err := h.recognise(ctx, v, path, c.Works)
	if err != nil {
		return err
	}
	if why != "" {
		return unlessOver(h.desk.PutAside(ctx, v, id, why))
	}
	return unlessOver(h.desk.KeepGuesses(ctx, v, id, guesses(c, likely)))
}

// recognise says which works a file may be of; why is what the recording itself is to blame for.
func (h *Hands) recognise(ctx context.Context, v studio.Viewer, path string, works []studio.Work) (likely []likeWork, why string, err error) {
	pcm, _, err := media.Decode(ctx, path, h.o.Media)
	if say := blame(err); say != "" {
		return nil, say, nil
	}
	if err != nil {
		return nil, "", err
	}
	sound, err := findings.Listen(pcm)
	if err != nil {
		return nil, "", err
	}
	if sound != findings.Tones {
		s := scene{sound: sound}
		return nil, s.concerns()[0].Say, nil
	}
	l, err := ear.Listen(ctx, pcm, nil)
	if err != nil {
		return nil, "", err
	}
	likely, err = h.soundsLike(ctx, v.Studio, l, works)
	return likely, "", err
}

// How much each clue weighs beside none. Our choice, no source: a name in the file's name is strong, but
// siblings share phones; what was asked last is what is sent.
const (
	weighsName   = 12.0
	weighsFamily = 6.0
	weighsAsked  = 8.0  // against a work of the library that was not asked of this student
	unheardWork  = 0.02 // of an assignment whose piece was not recognised
	mostGuesses  = 6
	leastGuess   = 0.02
)

// guesses ranks students and what was asked of them.
func guesses(c studio.Clues, likely []likeWork) []studio.Guess {
	words := namesIn(c.Unsorted.FileName)
	families := map[studio.FamilyID]string{}
	for _, f := range c.Families {
		families[f.ID] = f.Name
	}
	var all []studio.Guess
	var sum float64
	add := func(g studio.Guess) {
		sum += g.Confidence
		all = append(all, g)
	}
	for _, s := range c.Students {
		name := 1.0
		var because []string
		if named(words, s.Name) {
			name *= weighsName
			because = append(because, fmt.Sprintf("the file is called %s", quoted(c.Unsorted.FileName)))
		}
		if named(words, families[s.Family]) {
			name *= weighsFamily
			if len(because) == 0 {
				because = append(because, fmt.Sprintf("the file's name has %s in it", families[s.Family]))
			}
		}
		seen := map[studio.WorkID]bool{}
		for _, a := range c.Asked[s.ID] {
			k := slices.IndexFunc(likely, func(k likeWork) bool { return k.work.ID == a.Work })
			heard := unheardWork
			why := slices.Clone(because)
			if k >= 0 {
				heard = max(heard, likely[k].confidence)
				why = append(why, fmt.Sprintf("it sounds like %s, which was asked of %s", quoted(likely[k].work.Title), s.Name))
			}
			seen[a.Work] = true
			if len(why) > 0 {
				add(studio.Guess{Student: s.ID, Assignment: a.ID, Work: a.Work, Confidence: name * weighsAsked * heard, Why: sentence(why)})
			}
		}
		for _, k := range likely {
			if !seen[k.work.ID] && (len(because) > 0 || k.confidence >= sureOfOther && len(c.Students) == 1) {
				why := append(slices.Clone(because), fmt.Sprintf("it sounds like %s", quoted(k.work.Title)))
				add(studio.Guess{Student: s.ID, Work: k.work.ID, Confidence: name * k.confidence, Why: sentence(why)})
			}
		}
		if len(because) > 0 {
			add(studio.Guess{Student: s.ID, Confidence: name * unheardWork, Why: sentence(because)})
		}
	}
	slices.SortStableFunc(all, func(a, b studio.Guess) int { return cmp.Compare(b.Confidence, a.Confidence) })
	for i := range all {
		all[i].Confidence /= sum + 1 // one part for somebody, or something, that is not on the list
	}
	all = slices.DeleteFunc(all, func(g studio.Guess) bool { return g.Confidence < leastGuess })
	return all[:min(len(all), mostGuesses)]
}

// sentence makes one of reasons.
func sentence(reasons []string) string {
	s := strings.Join(reasons, ", and ")
	for i, r := range s {
		return string(unicode.ToUpper(r)) + s[i+len(string(r)):] + "."
	}
	return ""
}

// plain is text without accents, in small letters.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, norm.NFD.String(s))
}

// namesIn are the words of a file's name: what stands between anything that is no letter, and where small
// letters turn large. Three letters of them at least, or nearly every name would be in nearly every file.
func namesIn(fileName string) []string {
	if i := strings.LastIndexByte(fileName, '.'); i > 0 {
		fileName = fileName[:i]
	}
	var words []string
	var word []rune
	end := func() {
		if len(word) > 0 {
			words = append(words, plain(string(word)))
			word = nil
		}
	}
	for _, r := range fileName {
		if !unicode.IsLetter(r) && !unicode.Is(unicode.Mn, r) {
			end()
			continue
		}
		if len(word) > 0 && unicode.IsUpper(r) && unicode.IsLower(word[len(word)-1]) {
			end()
		}
		word = append(word, r)
	}
	end()
	return words
}

// named says whether every word of a name stands in the words.
func named(words []string, name string) bool {
	parts := namesIn(name)
	for _, p := range parts {
		if len([]rune(p)) < 2 || !slices.Contains(words, p) {
			return false
		}
	}
	return len(parts) > 0
}
