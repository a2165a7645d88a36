package scenario

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"antiphon/internal/rehearse"
)

// Recorder makes the recordings, on recorded guitar notes where they are installed and on modelled
// strings elsewhere. It is safe for several goroutines.
type Recorder struct {
	dir    string
	banks  *rehearse.Banks
	once   sync.Once
	silent bool // no recorded notes here
	mute   bool // nobody to speak
}

// NewRecorder works in dir, where it keeps notes from one recording to the next.
func NewRecorder(dir string, speaks bool) *Recorder {
	return &Recorder{dir: dir, banks: &rehearse.Banks{Cache: filepath.Join(dir, "notes")}, mute: !speaks}
}

// Recorded tells whether the guitar's notes were recorded ones, once something was played.
func (r *Recorder) Recorded() bool { return !r.silent }

// mediaTypes of the recordings by the ending of their names.
var mediaTypes = map[string]string{".m4a": "audio/mp4", ".webm": "audio/webm"}

// Record makes a recording. The caller calls done when it has read the file.
func (r *Recorder) Record(s rehearse.Spec) (path, mediaType string, done func(), err error) {
	r.once.Do(func() {
		_, err := r.banks.Get("timgm-nylon")
		r.silent = err != nil
	})
	if r.silent {
		s.Sources = []string{"own-nylon"}
	}
	if r.mute {
		s.Legs = slices.Clone(s.Legs)
		for i := range s.Legs {
			s.Legs[i].Say = ""
		}
	}
	dir, err := os.MkdirTemp(r.dir, "take-")
	if err != nil {
		return "", "", nil, fmt.Errorf("scenario: %w", err)
	}
	done = func() { os.RemoveAll(dir) } // a temporary folder; what stays goes with its parent
	truth, err := rehearse.Render(s, r.banks, dir)
	if err != nil {
		done()
		return "", "", nil, fmt.Errorf("scenario: %w", err)
	}
	path = filepath.Join(dir, "takes", truth.Audio)
	return path, mediaTypes[strings.ToLower(filepath.Ext(path))], done, nil
}
