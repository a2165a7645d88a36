package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"antiphon/internal/ear"
	"antiphon/internal/findings"
	"antiphon/internal/music"
)

// contract is the hearing as DESIGN section 5 has it, written out by hand from there: each field with
// the JSON types that it may have. "s" string, "n" number, "b" boolean, "0" null, "o" object; "a" an
// array whose elements follow under the same name.
var contract = map[string]string{
	"schema": "s", "take": "o", "score": "o", "passes": "a", "jumps": "a", "played": "a", "missed": "a", "tempo": "o",
	"dynamics": "o", "tone": "o", "tuning": "o", "evenness": "o", "findings": "a", "timing": "o",
	"take.file": "s", "take.duration_s": "n", "take.a4_hz": "n", "take.snr_db": "n", "take.clipped_share": "n",
	"score.title": "s", "score.bars": "n", "score.notes": "a",
	"score.notes.id": "s", "score.notes.part": "s", "score.notes.voice": "s", "score.notes.bar": "s", "score.notes.onset_q": "n",
	"score.notes.duration_q": "n", "score.notes.midi": "n", "score.notes.name": "s", "score.notes.string": "n0", "score.notes.fret": "n0",
	"score.notes.finger": "s0", "score.notes.pluck": "s0", "score.notes.grace": "b", "score.notes.cue": "b",
	"passes.n": "n", "passes.from_bar": "s", "passes.to_bar": "s", "passes.start_s": "n", "passes.end_s": "n", "passes.complete": "b",
	"passes.bpm": "n", "passes.steadiness_pct": "n",
	"jumps.kind": "s", "jumps.from_bar": "s", "jumps.to_bar": "s", "jumps.stop_s": "n", "jumps.resume_s": "n",
	"played.note": "s0", "played.pass": "n", "played.onset_s": "n", "played.offset_s": "n", "played.midi": "n", "played.cents": "n",
	"played.verdict": "s", "played.timing_ms": "n", "played.level_db": "n", "played.confidence": "n", "played.marks": "a",
	"played.marks.kind": "s", "played.marks.confidence": "n",
	"missed.note": "s", "missed.pass": "n", "missed.expected_s": "n", "missed.confidence": "n",
	"tempo.median_bpm": "n", "tempo.beat_unit_q": "n", "tempo.curve": "a", "tempo.steadiness_pct": "n",
	"tempo.curve.s": "n", "tempo.curve.bar": "s", "tempo.curve.bpm": "n",
	"findings.kind": "s", "findings.from_s": "n", "findings.to_s": "n", "findings.from_bar": "s0", "findings.to_bar": "s0", "findings.size": "n",
	"findings.unit": "s", "findings.confidence": "n", "findings.text": "s", "findings.evidence": "a",
	"timing.decode_s": "n", "timing.analysis_s": "n",
}

// typesAt collects the JSON types met under each path.
func typesAt(path string, v any, at map[string]map[string]bool) {
	kind := map[bool]string{true: "0"}[v == nil]
	switch x := v.(type) {
	case string:
		kind = "s"
	case float64:
		kind = "n"
	case bool:
		kind = "b"
	case []any:
		kind = "a"
		for _, e := range x {
			if m, ok := e.(map[string]any); ok {
				for k, f := range m {
					typesAt(path+"."+k, f, at)
				}
			}
		}
	case map[string]any:
		kind = "o"
		for k, f := range x {
			typesAt(strings.TrimPrefix(path+"."+k, "."), f, at)
		}
	}
	if at[path] == nil {
		at[path] = map[string]bool{}
	}
	at[path][kind] = true
}

func written(t *testing.T, r Report) (raw []byte, doc map[string]any) {
	t.Helper()
	var b bytes.Buffer
	if err := r.JSON(&b); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), doc
}

func TestJSONKeepsTheContract(t *testing.T) {
	_, doc := written(t, fixture())
	at := map[string]map[string]bool{}
	typesAt("", doc, at)
	for path, allowed := range contract {
		if at[path] == nil {
			t.Errorf("%s is missing", path)
		}
		for kind := range at[path] {
			if !strings.Contains(allowed, kind) {
				t.Errorf("%s is of type %q, the contract has %q", path, kind, allowed)
			}
		}
	}
	if doc["schema"] != "antiphon.hearing/1" {
		t.Errorf("schema %v", doc["schema"])
	}
}

// TestJSONRefersToItself: notes and passes that are named exist.
func TestJSONRefersToItself(t *testing.T) {
	_, doc := written(t, fixture())
	ids, passes := map[any]bool{nil: true}, map[any]bool{}
	list := func(v any) []any { return v.([]any) }
	for _, n := range list(doc["score"].(map[string]any)["notes"]) {
		id := n.(map[string]any)["id"]
		if ids[id] {
			t.Errorf("note id %v twice", id)
		}
		ids[id] = true
	}
	for i, p := range list(doc["passes"]) {
		n := p.(map[string]any)["n"]
		if n != float64(i+1) {
			t.Errorf("pass %d is numbered %v", i+1, n)
		}
		passes[n] = true
	}
	for _, name := range []string{"played", "missed"} {
		for _, p := range list(doc[name]) {
			m := p.(map[string]any)
			if !ids[m["note"]] || !passes[m["pass"]] {
				t.Errorf("%s names note %v, pass %v", name, m["note"], m["pass"])
			}
			if (m["note"] == nil) != (m["verdict"] == "extra") {
				t.Errorf("note %v with verdict %v", m["note"], m["verdict"])
			}
		}
	}
	for _, f := range list(doc["findings"]) {
		for _, id := range list(f.(map[string]any)["evidence"]) {
			if !ids[id] {
				t.Errorf("evidence %v is no note", id)
			}
		}
	}
}

func TestJSONGolden(t *testing.T) {
	raw, _ := written(t, fixture())
	golden(t, "hearing.json.golden", raw)
}

// TestJSONWithoutNumbers: what was not measured, or came out as no number, gives valid JSON.
func TestJSONWithoutNumbers(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	r := fixture()
	h := r.Hearing
	h.A4Hz, h.SNRDb, h.Tempo.MedianBpm, h.Tempo.NPVI, h.Tempo.MarkedBpm = nan, inf, nan, -inf, inf
	h.Played[0].TimingMs, h.Played[0].LevelDb, h.Played[0].Confidence, h.Played[1].Confidence = nan, -inf, 1.7, nan
	h.Passes[0].Bpm, h.Dynamics.VoicesDb[0].Db, h.Tuning[0].Cents = inf, nan, nan
	r.Findings = findings.Of(h, r.Score, findings.Options{})
	_, doc := written(t, r)
	first := doc["played"].([]any)[0].(map[string]any)
	if first["confidence"] != 1.0 || first["timing_ms"] != 0.0 {
		t.Errorf("%v", first)
	}
	if doc["tempo"].(map[string]any)["marked_bpm"] != nil {
		t.Error("an endless mark is no mark")
	}
}

// TestJSONOfNothing: a take of something else has empty lists, not null, and one finding.
func TestJSONOfNothing(t *testing.T) {
	h := &ear.Hearing{DurationS: 9, SNRDb: 30, A4Hz: 440}
	s := &music.Score{Title: "Over the Hedge"}
	raw, doc := written(t, Report{Hearing: h, Score: s, Findings: findings.Of(h, s, findings.Options{}), Meta: Meta{TakeFile: "x.m4a"}})
	for _, name := range []string{"passes", "jumps", "played", "missed", "findings"} {
		if doc[name] == nil {
			t.Errorf("%s is null:\n%s", name, raw)
		}
	}
	if f := doc["findings"].([]any); len(f) != 1 || f[0].(map[string]any)["kind"] != "not-this-score" || f[0].(map[string]any)["from_bar"] != nil {
		t.Errorf("%v", f)
	}
}

// TestNotesSayWhatIsUnknown: string, fret and fingers that the score does not give are null.
func TestNotesSayWhatIsUnknown(t *testing.T) {
	for _, c := range []struct {
		in   music.Sounding
		want string
	}{
		{music.Sounding{Fret: -1}, `"string":null,"fret":null,"finger":null,"pluck":null`},
		{music.Sounding{String: 3, Fret: 0, Finger: "0", Pluck: "m"}, `"string":3,"fret":0,"finger":"0","pluck":"m"`},
		{music.Sounding{String: 3, Fret: -1}, `"string":3,"fret":null`},
		{music.Sounding{Onset: music.Quarters(1, 3), Fret: -1, Grace: true}, `"onset_q":0.333333`},
	} {
		b, err := json.Marshal(Notes([]music.Sounding{c.in}))
		if err != nil || !strings.Contains(string(b), c.want) {
			t.Errorf("%+v: %s, want %s in it (%v)", c.in, b, c.want, err)
		}
	}
	if b, _ := json.Marshal(Notes(nil)); string(b) != "[]" {
		t.Errorf("no notes: %s", b)
	}
}
