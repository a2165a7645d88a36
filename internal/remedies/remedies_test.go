package remedies

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"unicode"

	"antiphon/internal/difficulty"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

func book(t *testing.T) *Book {
	t.Helper()
	b, err := Printed()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestThePrintedBook(t *testing.T) {
	b := book(t)
	if n := len(b.Entries()); n < 40 {
		t.Errorf("%d entries, want at least 40", n)
	}
	for _, e := range b.Entries() {
		body := strings.ToLower(e.Symptom + " " + e.Parent)
		for _, c := range e.Causes {
			body += " " + strings.ToLower(c.Cause)
		}
		for _, word := range []string{"finger", "thumb", "hand ", "hands", "wrist", "shoulder", "nail", "hurt", "joint"} {
			if strings.Contains(body, word) && len(e.Cautions) == 0 && e.ID != "recording-too-quiet" { // there a hand covers the phone
				t.Errorf("%s speaks of the body (%q) and has no caution", e.ID, word)
			}
		}
		if e.Hands && !strings.Contains(strings.Join(e.Cautions, " "), "not medical advice") {
			t.Errorf("%s concerns the hands and does not say that it is no medical advice", e.ID)
		}
		minutes := 0
		for _, s := range e.Do {
			minutes += s.Minutes
		}
		if minutes > mostMinutes {
			t.Errorf("%s takes %d minutes a day; no entry is to fill more than %d", e.ID, minutes, mostMinutes)
		}
	}
}

func allSkills() []difficulty.Skill {
	return []difficulty.Skill{difficulty.FourthFinger, difficulty.SmallBarre, difficulty.FullBarre, difficulty.HigherPosition, difficulty.Shifting,
		difficulty.Stretching, difficulty.LeftSlurs, difficulty.TwoVoices, difficulty.Sweep}
}

// contexts are many kinds of places.
func contexts() []Context {
	none := map[string]bool{StringCrossing: false}
	for _, s := range allSkills() {
		none[string(s)] = false
	}
	all := []Context{{}, {Skills: none}}
	for _, tex := range []Texture{Scale, Chords, Arpeggio, Tremolo, Voices} {
		all = append(all, Context{Texture: tex, Skills: none})
		for _, f := range []string{"0", "1", "2", "3", "4", "p", "i", "m", "a"} {
			for n := 1; n <= 6; n++ {
				all = append(all, Context{Texture: tex, Fingers: []string{f}, Strings: []int{n}, Skills: none})
			}
		}
	}
	for _, s := range append(allSkills(), StringCrossing) {
		for _, tex := range []Texture{Scale, Chords, Arpeggio, Voices} {
			some := maps.Clone(none)
			some[string(s)] = true
			all = append(all, Context{Texture: tex, Skills: some, Strings: []int{5}})
		}
	}
	return all
}

func TestEveryFindingHasARemedyAndEveryRemedyIsFound(t *testing.T) {
	b := book(t)
	reached := map[string]bool{}
	for _, k := range findings.Kinds() {
		for _, aspect := range append([]string{""}, k.Aspects()...) {
			for _, c := range contexts() {
				offers := b.For(findings.Finding{Kind: k, Aspect: aspect}, c)
				if len(offers) == 0 {
					t.Fatalf("%s/%s in %+v: nothing in the book", k, aspect, c)
				}
				for i, o := range offers {
					reached[o.Entry.ID] = true
					if i > 0 && o.Rank > offers[i-1].Rank {
						t.Fatalf("%s: %s stands below what is less likely", k, o.Entry.ID)
					}
					if !strings.HasPrefix(o.Why, "Offered for: ") {
						t.Fatalf("%s: no reason: %q", o.Entry.ID, o.Why)
					}
				}
			}
		}
	}
	for _, e := range b.Entries() {
		if e.Sign != Heard { // what is seen or told is looked for by its words, or comes with "something hurt"
			if found := b.Look(e.Symptom); len(found) > 0 && found[0].ID == e.ID {
				reached[e.ID] = true
			}
		}
		if !reached[e.ID] {
			if found := b.Look(e.Symptom); len(found) == 0 || found[0].ID != e.ID {
				t.Errorf("%s is never found", e.ID)
			} else if e.Sign == Heard {
				t.Errorf("%s is heard, and no finding leads to it", e.ID)
			}
		}
	}
}

func TestRanking(t *testing.T) {
	b := book(t)
	for _, c := range []struct {
		name  string
		f     findings.Finding
		c     Context
		first string
		not   string
	}{ // common practice, no source
		{"thumb late in two voices", findings.Finding{Kind: findings.UnevenFinger, Aspect: "late"}, Context{Texture: Voices, Fingers: []string{"p"}}, "late-thumb", "tremolo-uneven"},
		{"ring finger soft", findings.Finding{Kind: findings.UnevenFinger, Aspect: "softer"}, Context{Texture: Arpeggio, Fingers: []string{"a"}}, "ring-finger-weak", "late-thumb"},
		{"stop at a shift", findings.Finding{Kind: findings.Hesitation}, Context{Texture: Scale, Skills: map[string]bool{"shifting": true, "small barre": false, "full barre": false}}, "stop-before-shift", "barre"},
		{"stop at a chord, no shift", findings.Finding{Kind: findings.Hesitation}, Context{Texture: Chords, Skills: map[string]bool{"shifting": false, "higher positions": false}}, "stop-before-chord", "stop-before-shift"},
		{"bass not heard", findings.Finding{Kind: findings.Missed, Aspect: "bass"}, Context{Texture: Voices}, "bass-missing", "inner-string-silent"},
		{"sharp of the key", findings.Finding{Kind: findings.Wrong, Aspect: "key-sign"}, Context{Texture: Scale}, "key-sign-forgotten", "octave-off"},
		{"tremolo", findings.Finding{Kind: findings.UnevenPattern, Aspect: "short-long"}, Context{Texture: Tremolo, Fingers: []string{"p", "a", "m", "i"}}, "tremolo-uneven", "alternation-uneven"},
		{"hurt comes first", findings.Finding{Kind: findings.Rushing}, Context{Hurt: true}, "something-hurts", ""},
	} {
		var ids []string
		for _, o := range b.For(c.f, c.c) {
			ids = append(ids, o.Entry.ID)
		}
		if !slices.Contains(ids[:min(len(ids), 2)], c.first) {
			t.Errorf("%s: %v, want %s among the first two", c.name, ids, c.first)
		}
		if slices.Contains(ids, c.not) {
			t.Errorf("%s: %s does not belong here", c.name, c.not)
		}
	}
}

// plainness is the mean sentence length in words and the grade level of Kincaid et al. 1975 (formula
// from memory: 0.39 words a sentence + 11.8 syllables a word − 15.59), syllables counted as groups of
// vowels with a silent e left out.
func plainness(text string) (sentence, grade float64) {
	sentences, all, syllables := 0.0, 0.0, 0.0
	for _, s := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(".!?:;\n", r) }) {
		w := words(s)
		if len(w) == 0 {
			continue
		}
		sentences++
		all += float64(len(w))
		for _, x := range w {
			n, in := 0, false
			for _, r := range x {
				v := strings.ContainsRune("aeiouy", r)
				if v && !in {
					n++
				}
				in = v
			}
			if strings.HasSuffix(x, "e") && n > 1 && !strings.HasSuffix(x, "le") {
				n--
			}
			syllables += float64(max(1, n))
		}
	}
	return all / sentences, 0.39*all/sentences + 11.8*syllables/all - 15.59
}

func TestAParentCanReadIt(t *testing.T) {
	// Worked by hand: 6 words, 1 sentence, 6 syllables: 2.34 + 11.8 − 15.59.
	if s, g := plainness("The cat sat on the mat."); s != 6 || math.Abs(g+1.45) > 1e-9 {
		t.Fatalf("the measure itself is wrong: %v %v", s, g)
	}
	for _, e := range book(t).Entries() {
		text := []string{e.Parent, e.Ask, e.Remark}
		for _, s := range e.Do {
			text = append(text, s.Do)
		}
		text = append(text, e.Cautions...)
		s, g := plainness(strings.Join(text, "\n"))
		if s > 11 || g > 6 {
			t.Errorf("%s: %.1f words a sentence, grade %.1f; want at most 11 and 6", e.ID, s, g)
		}
		for _, r := range strings.Join(text, "") {
			if r > unicode.MaxASCII && r != '’' {
				t.Errorf("%s: %q is not for every phone", e.ID, r)
			}
		}
	}
}

func TestTheTeachersOwnWords(t *testing.T) {
	b := book(t)
	before, _ := b.Entry("late-thumb")
	own, faults := b.With(map[string]json.RawMessage{
		"late-thumb": json.RawMessage(`{"remark":"Thumb first, please.","do":[{"do":"Say thumb.","minutes":1}]}`),
		"my-own": json.RawMessage(`{"symptom":"Pulls a face","parent":"Makes faces.","causes":[{"cause":"Effort.","check":"Look."}],
			"do":[{"do":"Smile.","minutes":1}],"ask":"Nobody.","remark":"Smile, please."}`),
		"squeaks": json.RawMessage(`{"hidden":true}`),
		"rushing": json.RawMessage(`{"remark":`),
	})
	e, _ := own.Entry("late-thumb")
	if e.Remark != "Thumb first, please." || len(e.Do) != 1 || !e.Own || e.Symptom != before.Symptom || len(e.Causes) != len(before.Causes) {
		t.Errorf("merged to %+v", e)
	}
	if now, _ := b.Entry("late-thumb"); now.Remark != before.Remark || len(now.Do) != len(before.Do) {
		t.Error("the printed book was changed")
	}
	if e, ok := own.Entry("my-own"); !ok || e.Source != "the teacher's own words" || own.Look("pulls face")[0].ID != "my-own" {
		t.Errorf("the new entry is %+v", e)
	}
	if slices.ContainsFunc(own.Look("squeaks"), func(e Entry) bool { return e.ID == "squeaks" }) {
		t.Error("a hidden entry is still offered")
	}
	if len(faults) != 1 || faults[0].ID != "rushing" {
		t.Errorf("faults %v", faults)
	}
	if r, _ := own.Entry("rushing"); r.Own {
		t.Error("a broken document replaced the printed entry")
	}
}

func TestOwnWordsAreChecked(t *testing.T) {
	b := book(t)
	for _, c := range []struct{ id, doc, say string }{
		{"late-thumb", `{"cautions":[]}`, "at least one caution"},
		{"late-thumb", `{"hands":false,"cautions":[]}`, "at least one caution"},
		{"late-thumb", `{"colour":"red"}`, `"colour" is not known`},
		{"late-thumb", `{"symptom":7}`, "should be text, not number"},
		{"late-thumb", `{"do":[{"do":"Play.","minutes":45}]}`, "from 0 to 10 minutes"},
		{"late-thumb", `{"do":[{"do":"Play.","minutes":1.5}]}`, "a whole number"},
		{"late-thumb", `{"applies":{"findings":["late"]}}`, "no kind of finding"},
		{"late-thumb", `{"applies":{"findings":["missed-note/late"]}}`, "no aspect of"},
		{"late-thumb", `{"applies":{"textures":["strum"]}}`, "no texture"},
		{"late-thumb", `{"applies":{"fingers":["5"]}}`, "no finger"},
		{"late-thumb", `{"applies":{"strings":[0]}}`, "no string 0"},
		{"late-thumb", `{"id":"other"}`, "leave its id"},
		{"late-thumb", `{"remark":""}`, "is empty"},
		{"late-thumb", `{"remark":"` + strings.Repeat("a", 1300) + `"}`, "longer than 1200"},
		{"late-thumb", `{"remark":"a\u0007"}`, "cannot be printed"},
		{"late-thumb", `{} {}`, "follows after its end"},
		{"late-thumb", `[]`, "should be an object"},
		{"late-thumb", `null`, "not a JSON object"},
		{"late-thumb", ``, "not written as JSON"},
		{"Late Thumb", `{"symptom":"x","parent":"x"}`, "small letters"},
		{"new-one", `{"symptom":"x","parent":"x","ask":"x","remark":"x"}`, "from 1 to 12 causes"},
		{"late-thumb", `{"remark":"` + strings.Repeat("a", 70000) + `"}`, "64 kilobytes"},
	} {
		_, err := b.Merged(c.id, json.RawMessage(c.doc))
		if err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%.60s: %v, want %q", c.doc, err, c.say)
		}
	}
}

func FuzzMerged(f *testing.F) {
	f.Add(`{"remark":"a"}`)
	f.Add(`{"do":[{"do":"Play.","minutes":5}]}`)
	b, err := Printed()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, doc string) {
		e, err := b.Merged("late-thumb", json.RawMessage(doc))
		if err == nil && (wrong(e) != "" || len(e.Cautions) == 0) {
			t.Errorf("%q makes an entry that is not sound: %s", doc, wrong(e))
		}
		printed, _ := b.Entry("late-thumb")
		if s := fmt.Sprint(printed); !strings.Contains(s, "The thumb comes late") {
			t.Error("the printed book was changed")
		}
	})
}

func TestAround(t *testing.T) {
	note := func(id string, q int64, midi int, pluck, voice string) music.Sounding {
		return music.Sounding{ID: id, Part: "P1", Voice: voice, Bar: "1", Onset: music.Quarters(q, 2), Midi: midi, String: 1 + int(q)%3, Fret: -1, Pluck: pluck}
	}
	scale := []music.Sounding{note("a", 0, 60, "i", "1"), note("b", 1, 62, "m", "1"), note("c", 2, 64, "i", "1"), note("d", 3, 65, "m", "1")}
	arp := []music.Sounding{note("a", 0, 48, "p", "1"), note("b", 1, 55, "i", "1"), note("c", 2, 60, "m", "1"), note("d", 3, 64, "a", "1"), note("e", 4, 60, "m", "1"), note("f", 5, 55, "i", "1")}
	chords := []music.Sounding{note("a", 0, 48, "p", "1"), note("b", 0, 55, "i", "1"), note("c", 0, 60, "m", "1"), note("d", 2, 48, "p", "1"), note("e", 2, 57, "i", "1"), note("f", 2, 60, "m", "1")}
	broken := []music.Sounding{note("a", 0, 57, "p", "1"), note("b", 1, 59, "i", "1"), note("c", 2, 60, "m", "1"), note("d", 3, 59, "i", "1")} // close, but one finger a string
	two := append(slices.Clone(scale), note("x", 0, 48, "p", "2"))
	trem := []music.Sounding{{ID: "a", Bar: "1", Midi: 64, Tremolo: 3, Pluck: "a"}}
	for _, c := range []struct {
		name  string
		notes []music.Sounding
		want  Texture
	}{{"scale", scale, Scale}, {"arpeggio", arp, Arpeggio}, {"close arpeggio", broken, Arpeggio}, {"chords", chords, Chords}, {"two voices", two, Voices}, {"tremolo", trem, Tremolo}} {
		got := Around(findings.Finding{Kind: findings.Wrong, Evidence: []string{"a"}}, c.notes, nil)
		if got.Texture != c.want {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
	asks := &difficulty.Report{Skills: []difficulty.Need{{Skill: difficulty.Shifting, Bars: []string{"1"}}, {Skill: difficulty.FullBarre, Bars: []string{"2"}}}}
	got := Around(findings.Finding{Kind: findings.Hesitation, Evidence: []string{"b"}}, scale, asks)
	if !got.Skills["shifting"] || got.Skills["full barre"] || !got.Skills[StringCrossing] || !slices.Equal(got.Fingers, []string{"m"}) || !slices.Equal(got.Strings, []int{2}) {
		t.Errorf("around: %+v", got)
	}
	// Worked by hand: first position, third and first fret together, the bass held; nobody marked a finger.
	low := []music.Sounding{{ID: "a", Bar: "1", Midi: 48, String: 5, Fret: 3, Duration: music.Quarters(2, 1)},
		{ID: "b", Bar: "1", Midi: 60, String: 2, Fret: 1, Onset: music.Quarters(1, 1), Duration: music.Quarters(1, 1)}}
	got = Around(findings.Finding{Kind: findings.Missed, Evidence: []string{"b"}}, low, nil)
	for skill, want := range map[string]bool{"shifting": false, "small barre": false, "higher positions": false, "holding a voice": true, "left-hand slurs": false} {
		if need, known := got.Skills[skill]; !known || need != want {
			t.Errorf("%s: needed %v, known %v", skill, need, known)
		}
	}
	if !slices.Equal(got.Fingers, []string{"1"}) {
		t.Errorf("in first position the first finger stands in the first fret: %v", got.Fingers)
	}
	barre := []music.Sounding{{ID: "a", Bar: "1", Midi: 48, String: 5, Fret: 5}, {ID: "b", Bar: "1", Midi: 69, String: 1, Fret: 5}, {ID: "c", Bar: "1", Midi: 77, String: 1, Fret: 10, Onset: music.Quarters(1, 1)}}
	got = Around(findings.Finding{Kind: findings.Missed, Evidence: []string{"b"}}, barre, nil)
	if !got.Skills["full barre"] || !got.Skills["shifting"] || !got.Skills["higher positions"] {
		t.Errorf("a barre at the fifth fret and a shift to the tenth: %v", got.Skills)
	}
	bare := []music.Sounding{{ID: "a", Bar: "1", Midi: 48, Fret: -1, Slurred: true}}
	got = Around(findings.Finding{Kind: findings.Missed, Evidence: []string{"a"}}, bare, nil)
	if _, known := got.Skills["shifting"]; known || !got.Skills["left-hand slurs"] {
		t.Errorf("without frets: %v", got.Skills)
	}
	if got := Around(findings.Finding{Kind: findings.Clipped}, scale, nil); got.Texture != "" {
		t.Errorf("a finding without notes has a texture: %+v", got)
	}
}

func TestRunning(t *testing.T) {
	lessons := []string{"d", "c", "b", "a"}
	for _, c := range []struct {
		made []string
		want int
	}{{nil, 0}, {[]string{"d"}, 1}, {[]string{"b", "c", "d"}, 3}, {[]string{"a", "b", "d"}, 1}, {[]string{"a", "b", "c"}, 0}} {
		if got := Running(lessons, c.made); got != c.want {
			t.Errorf("%v: %d, want %d", c.made, got, c.want)
		}
	}
	if Warning(2) != "" || !strings.Contains(Warning(3), "3 lessons running") {
		t.Error("the warning comes from the third lesson on")
	}
}
