package media

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"antiphon/internal/cage"
)

// FilmItem is one recording of a film.
type FilmItem struct {
	Path string
	Card func(widthPx, heightPx int) ([]byte, error) // a PNG of that size, shown while there is no picture; nil is plain paper
}

// FilmOptions: the zero value allows 30 minutes for an item and 90 for the film.
type FilmOptions struct {
	Media Options       // limits on one item; MaxDuration 0 means 30 minutes
	Most  time.Duration // of the whole film; 0 means 90 minutes
}

// Span is a stretch of a film.
type Span struct{ FromS, ToS float64 }

// Joined is a film: one file, and where in it each item lies.
type Joined struct {
	Path      string
	Type      string // video/mp4, or audio/mp4 where no item has a picture
	Chapters  []Span // as many as items, without gaps, exact to the sample
	DurationS float64
	Width     int // of the picture; 0 none
	Height    int
	Lufs      float64 // to which all items were brought; −Inf where nothing sounds
}

// The clock of a film: a picture is a whole number of samples long, so that items join without a gap or a slip.
const (
	filmFps       = 30
	filmRateHz    = 48000
	samplesAFrame = filmRateHz / filmFps
)

// Joining longer than this is given up. Two cores encode a minute of film in about 20 s.
const joinFor = 60 * time.Minute

// Film joins recordings, in order, into one new file in dir: H.264 of at most 720 lines and AAC in MP4,
// its table in front; AAC alone where no item has a picture. Sizes, turns, rates and loudness of the items
// may differ: pictures are fitted whole into one frame, and the loudness is evened (see evened). What the
// recordings tell of place, device and people is not in it. Copies of the sound lie in dir until it returns.
// The error is a *Error whose Path is that of the item to blame, if one is.
func Film(ctx context.Context, items []FilmItem, dir string, opt FilmOptions) (Joined, error) {
	if opt.Media.MaxDuration == 0 {
		opt.Media.MaxDuration = 30 * time.Minute
	}
	if opt.Most == 0 {
		opt.Most = 90 * time.Minute
	}
	opt.Media.RateHz = filmRateHz
	opt.Media = opt.Media.withDefaults()
	if len(items) == 0 {
		return Joined{}, problem(NoSound, "", nil, "a film of nothing cannot be made: record an item first")
	}
	ctx, cancel := context.WithTimeout(ctx, joinFor)
	defer cancel()
	work, err := os.MkdirTemp(dir, "film-")
	if err != nil {
		return Joined{}, problem(Internal, "", err, "the film cannot be made (%v): make room for temporary files", cause(err))
	}
	defer os.RemoveAll(work)
	f := &filming{opt: opt, dir: work}
	for i, it := range items {
		if err := f.take(ctx, i, it); err != nil {
			return Joined{}, err
		}
	}
	if f.frames > int(opt.Most.Seconds()*filmFps) {
		return Joined{}, problem(TooLong, "", nil, "the items take %s together and a film may take %s: shorten one, or send it in two lessons",
			clock(float64(f.frames)/filmFps), clock(opt.Most.Seconds()))
	}
	f.frame()
	if f.width > 0 {
		for i := range f.scenes {
			if err := f.shoot(ctx, &f.scenes[i]); err != nil {
				return Joined{}, err
			}
		}
	}
	return f.join(ctx, dir)
}

// filming is a film in the making.
type filming struct {
	opt           FilmOptions
	dir           string
	scenes        []scene
	frames        int // of all scenes
	width, height int // of the picture; 0 none
}

// scene is one item of it.
type scene struct {
	item    FilmItem
	n       int
	tracks  Tracks
	shown   [2]int // width and height as a player shows the picture; 0 none
	frames  int
	samples int    // of its sound; silence fills the rest
	sound   string // its samples, float32 at filmRateHz, one channel; "" silent
	picture string // its pictures, encoded
	lufs    float64
	peakDb  float64
}

// take unpacks the sound of an item and measures it.
func (f *filming) take(ctx context.Context, i int, it FilmItem) error {
	t, err := Examine(ctx, it.Path, f.opt.Media)
	if err != nil {
		return err
	}
	s := scene{item: it, n: i, tracks: t, lufs: math.Inf(-1), peakDb: math.Inf(-1)}
	if t.soundIdx < 0 && t.videoIdx < 0 {
		return problem(NoSound, it.Path, nil, "%s holds neither sound nor picture that can be read: record it again", it.Path)
	}
	if limit := f.opt.Media.MaxDuration.Seconds(); t.LengthS > limit+1 && t.soundIdx < 0 {
		return tooLong(it.Path, t.LengthS, f.opt.Media)
	}
	lengthS := 0.0
	if t.soundIdx >= 0 {
		if lengthS, err = f.listen(ctx, &s); err != nil {
			return err
		}
	}
	if t.videoIdx >= 0 {
		if s.shown, err = shownSize(ctx, it.Path, t, f.opt.Media); err != nil {
			return err
		}
		lengthS = max(lengthS, min(t.LengthS, f.opt.Media.MaxDuration.Seconds()))
	}
	if lengthS == 0 {
		return problem(Broken, it.Path, nil, "%s has no sound and does not say how long it is: record it again", it.Path)
	}
	s.frames = max(1, int(math.Ceil(lengthS*filmFps-1e-6)))
	f.scenes = append(f.scenes, s)
	f.frames += s.frames
	return nil
}

// listen decodes an item's sound into a file of its own.
func (f *filming) listen(ctx context.Context, s *scene) (lengthS float64, err error) {
	pcm, _, err := Decode(ctx, s.item.Path, f.opt.Media)
	if err != nil {
		return 0, err
	}
	if err := s.measure(pcm); err != nil {
		return 0, problem(Internal, s.item.Path, err, "the loudness of %s cannot be measured (%v): report it", s.item.Path, err)
	}
	s.sound, s.samples = filepath.Join(f.dir, fmt.Sprintf("%d.f32", s.n)), len(pcm.Samples)
	to, err := os.Create(s.sound)
	if err != nil {
		return 0, problem(Internal, s.item.Path, err, "the film cannot be made (%v): make room for temporary files", cause(err))
	}
	w := bufio.NewWriterSize(to, 1<<20)
	_, err = w.ReadFrom(&floats{left: pcm.Samples})
	if err == nil {
		err = w.Flush()
	}
	if cerr := to.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return 0, problem(Internal, s.item.Path, err, "the film cannot be made (%v): make room for temporary files", cause(err))
	}
	return pcm.Seconds(), nil
}

// frame chooses the picture's size: lying or standing as most of the film is, no larger than the largest item
// and than 720 lines.
func (f *filming) frame() {
	lying, standing := 0, 0
	short, long := 0.0, 0.0
	for _, s := range f.scenes {
		w, h := float64(s.shown[0]), float64(s.shown[1])
		if w == 0 {
			continue
		}
		if h > w {
			standing += s.frames
		} else {
			lying += s.frames
		}
		short = max(short, min(w, h))
		long = max(long, max(w, h)/min(w, h))
	}
	if lying+standing == 0 {
		return
	}
	short = min(short, shortSide)
	even := func(v float64) int { return max(2, 2*int(math.Round(v/2))) }
	a, b := even(short*min(long, 16.0/9)), even(short)
	if f.width, f.height = a, b; standing > lying {
		f.width, f.height = b, a
	}
}

// paper is the colour round a picture that does not fill the frame, and of a card without words.
const paper = "0xf7f4ec"

// shoot encodes the pictures of a scene: exactly as many as its frames, the last one standing where they
// end early.
func (f *filming) shoot(ctx context.Context, s *scene) error {
	s.picture = filepath.Join(f.dir, fmt.Sprintf("%d.mp4", s.n))
	if s.shown[0] > 0 {
		abs, err := look(s.item.Path, f.opt.Media)
		if err != nil {
			return err
		}
		args := []string{"-nostdin", "-hide_banner", "-threads", "2", "-filter_threads", "1"}
		if s.tracks.startS < 0 {
			args = append(args, "-itsoffset", fmt.Sprintf("%.6f", s.tracks.startS)) // see decoder.run
		}
		args = append(append(args, guarded(abs)...), "-map", fmt.Sprintf("0:%d", s.tracks.videoIdx), "-vf", f.fit())
		err = f.encode(ctx, args, s, []string{abs})
		if err == nil {
			return nil
		}
		if !unreadable(err) {
			return err
		}
		// A track without one whole picture: its sound is kept.
	}
	card, err := f.card(s)
	if err != nil {
		return err
	}
	args := []string{"-nostdin", "-hide_banner", "-v", "error", "-threads", "2", "-filter_threads", "1",
		"-protocol_whitelist", "file,pipe", "-loop", "1", "-framerate", fmt.Sprint(filmFps), "-f", "image2", "-i", "file:" + card, "-vf", f.fit(), "-tune", "stillimage"}
	return f.encode(ctx, args, s, nil)
}

func unreadable(err error) bool {
	e, ok := errors.AsType[*Error](err)
	return ok && (e.Kind == Broken || e.Kind == NotMedia)
}

// fit brings any picture whole into the frame, upright, at an even rate, and lets its last one stand.
func (f *filming) fit() string {
	return fmt.Sprintf("scale=w=iw*sar:h=ih,setsar=1,scale=w=%d:h=%d:force_original_aspect_ratio=decrease:force_divisible_by=2,pad=%d:%d:-1:-1:color=%s,setsar=1,fps=%d:start_time=0,tpad=stop=-1:stop_mode=clone",
		f.width, f.height, f.width, f.height, paper, filmFps)
}

// encode is the same for every scene, so that they can be joined without being encoded again. Without
// pictures that wait for later ones, every picture's time is its number.
func (f *filming) encode(ctx context.Context, input []string, s *scene, read []string) error {
	args := append(input, "-an", "-frames:v", fmt.Sprint(s.frames),
		"-c:v", "libx264", "-profile:v", "main", "-preset", "veryfast", "-crf", "24", "-maxrate", "2500k", "-bufsize", "5000k", "-bf", "0",
		"-pix_fmt", "yuv420p", "-r", fmt.Sprint(filmFps), "-g", "60", "-video_track_timescale", "90000", "-threads", "2")
	args = append(append(args, nothingElse()...), "-f", "mp4", "file:"+s.picture)
	_, err := cage.Job{
		Program: "ffmpeg", Args: args,
		Read: read, Write: []string{f.dir},
		Limits: cage.Limits{Wall: renderFor, MemoryBytes: 3 << 30, OutputBytes: f.opt.Media.MaxBytes},
		Nice:   15,
	}.Run(ctx)
	if err != nil {
		return explain(ctx, err, s.item.Path, s.item.Path)
	}
	made, err := Examine(ctx, s.picture, f.opt.Media)
	if err != nil {
		return err
	}
	if math.Abs(made.LengthS-float64(s.frames)/filmFps) > 0.5/filmFps {
		return problem(Broken, s.item.Path, nil, "%s shows no picture: record it again", s.item.Path)
	}
	return nil
}

// card is what is shown while an item only sounds.
func (f *filming) card(s *scene) (string, error) {
	at := filepath.Join(f.dir, fmt.Sprintf("%d.png", s.n))
	var b []byte
	var err error
	if s.item.Card != nil {
		b, err = s.item.Card(f.width, f.height)
	} else {
		b, err = plainPaper(f.width, f.height)
	}
	if err == nil {
		err = os.WriteFile(at, b, 0o600)
	}
	if err != nil {
		return "", problem(Internal, s.item.Path, err, "the title of an item cannot be drawn (%v): report it", err)
	}
	return at, nil
}

// join puts the scenes behind each other.
func (f *filming) join(ctx context.Context, dir string) (Joined, error) {
	out := Joined{Path: output(dir, "film", "mp4"), Type: "video/mp4", Width: f.width, Height: f.height}
	target, gains := evened(f.scenes)
	out.Lufs = target
	args := []string{"-nostdin", "-hide_banner", "-v", "error", "-threads", "2", "-protocol_whitelist", "file,pipe"}
	sound := append(args, "-f", "f32le", "-ar", fmt.Sprint(filmRateHz), "-ac", "1", "-i", "pipe:0")
	if f.width > 0 {
		list := filepath.Join(f.dir, "scenes")
		var b strings.Builder
		for _, s := range f.scenes {
			fmt.Fprintf(&b, "file '%s'\n", filepath.Base(s.picture))
		}
		if err := os.WriteFile(list, []byte(b.String()), 0o600); err != nil {
			return Joined{}, problem(Internal, "", err, "the film cannot be made (%v): make room for temporary files", cause(err))
		}
		args = append(sound, "-protocol_whitelist", "file", "-f", "concat", "-safe", "1", "-i", "file:"+list, "-map", "1:v", "-map", "0:a", "-c:v", "copy")
	} else {
		out.Path, out.Type = output(dir, "film", "m4a"), PlayableType
		args = sound
	}
	args = append(args, "-c:a", "aac", "-b:a", "96k")
	args = append(append(args, nothingElse()...), "-movie_timescale", fmt.Sprint(filmRateHz), "-movflags", "+faststart", "-f", "mp4", "file:"+out.Path)
	reel := &reel{scenes: f.scenes, gains: gains}
	defer reel.close()
	_, err := cage.Job{
		Program: "ffmpeg", Args: args, Stdin: bufio.NewReaderSize(reel, 1<<20),
		Write:  []string{dir},
		Limits: cage.Limits{Wall: renderFor, MemoryBytes: 2 << 30, OutputBytes: f.opt.Media.MaxBytes},
		Nice:   15,
	}.Run(ctx)
	if err == nil {
		err = reel.fault
	}
	if err != nil {
		os.Remove(out.Path)
		return Joined{}, explain(ctx, err, "", "the film")
	}
	at := 0
	for _, s := range f.scenes {
		out.Chapters = append(out.Chapters, Span{float64(at) / filmFps, float64(at+s.frames) / filmFps})
		at += s.frames
	}
	out.DurationS = float64(at) / filmFps
	return out, nil
}
