package notation_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"antiphon/internal/music"
	"antiphon/internal/notation"
)

// mido's own reading of a file, note by note, in quarters.
const midoNotes = `
import sys, mido
m = mido.MidiFile(sys.argv[1])
print(m.type, m.ticks_per_beat, len(m.tracks))
for t in m.tracks:
    now, on = 0, {}
    for e in t:
        now += e.time
        if e.type == 'note_on' and e.velocity: on.setdefault((e.channel, e.note), []).append(now)
        elif e.type in ('note_off', 'note_on'):
            s = on[(e.channel, e.note)].pop(0)
            print(s / m.ticks_per_beat, (now - s) / m.ticks_per_beat, e.note)
`

// TestMIDIAsMidoReadsIt: what we write is what another library reads, and our reader agrees with it.
// Reference: mido, where Python has it.
func TestMIDIAsMidoReadsIt(t *testing.T) {
	python := ""
	for _, p := range []string{"python3", "/usr/bin/python3"} { // Debian's own has Debian's packages
		if python == "" && exec.Command(p, "-c", "import mido").Run() == nil {
			python = p
		}
	}
	if python == "" {
		t.Log("python3 has no mido: the files of the standard and of the development takes stand in for it")
		return
	}
	scores := map[string]*music.Score{
		"everything": readFile(t, "everything.musicxml"),
		"tune":       read(t, []byte("X:1\nM:6/8\nL:1/8\nK:D\nA|:[FA]>GF (3EFG|[1 D3-D2A:|[2 D3 {ef}d3|]\n")),
		"example":    read(t, []byte(example0)),
	}
	for name, s := range scores {
		var b bytes.Buffer
		if err := notation.WriteMIDI(&b, s); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "a.mid")
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, "-c", midoNotes, path).Output()
		if err != nil {
			t.Fatalf("%s: mido does not read what was written: %v", name, err)
		}
		lines := bufio.NewScanner(bytes.NewReader(out))
		lines.Scan()
		var theirs []sound
		for lines.Scan() {
			var n sound
			if _, err := fmt.Sscan(lines.Text(), &n.on, &n.length, &n.midi); err != nil {
				t.Fatal(err)
			}
			theirs = append(theirs, n)
		}
		ours := sounds(read(t, b.Bytes()))
		for i := range ours {
			ours[i].on = math.Round(ours[i].on*1e9) / 1e9
		}
		sortSounds(ours)
		sortSounds(theirs)
		if d := differentSounds(ours, theirs, 1e-6); d != "" {
			t.Errorf("%s: we and mido read different notes: %s", name, d)
		}
		if len(theirs) < len(s.Sounding())-1 { // the cue note is left out, repeats add
			t.Errorf("%s: %d notes of %d", name, len(theirs), len(s.Sounding()))
		}
	}
}
