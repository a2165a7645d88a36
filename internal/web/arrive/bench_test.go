package arrive

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"testing"
	"time"

	"antiphon/internal/jobs"
	"antiphon/internal/listen"
	"antiphon/internal/rehearse"
	"antiphon/internal/store"
	"antiphon/internal/store/disk"
	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/webtest"
)

// phoneVideo is a video of about three minutes and 100 MB, as a phone makes it: a take of rounds on recorded
// strings, and a moving picture with as much noise as fills the file.
func phoneVideo(b *testing.B, dir string) (file string, piece rehearse.Piece) {
	b.Helper()
	specs, err := rehearse.Draw(rehearse.Recipe{Name: "bench", Seed: 11, Takes: 60, Nylon: []string{"own-nylon"}, Steel: []string{"own-steel"}})
	if err != nil {
		b.Fatal(err)
	}
	for _, s := range specs {
		if s.Piece.Name == "lane" {
			piece = s.Piece
		}
	}
	last := piece.Bars[len(piece.Bars)-1]
	var legs []rehearse.Leg
	for n := range 8 {
		l := rehearse.Leg{ToTick: last.At + last.Ticks, Ratio: 1 + 0.02*float64(n)}
		if n > 0 {
			l.Jump, l.GapS = "repeat", 1.5
		}
		legs = append(legs, l)
	}
	truth, err := rehearse.Render(rehearse.Spec{ID: "sunday", Seed: 5, Piece: piece, Sources: []string{"own-nylon"}, Legs: legs,
		Manner: rehearse.Manner{Tempo: 0.95, Drift: 0.02, JitterS: 0.012, SpreadDb: 2, LeadInS: 0.9, RollS: [2]float64{0.004, 0.02}}, Tuning: rehearse.Tuning{A4Hz: 440},
		Noises: rehearse.Noises{HissDb: -50, HumDb: -200, FanDb: -200}, Phone: rehearse.Phone{LowHz: 80, HighHz: 12000, Peak: 0.6, SecondChannelDb: -200},
		Codec: rehearse.Codec{Ext: "wav", Args: []string{"-c:a", "pcm_s16le"}}}, &rehearse.Banks{Cache: dir}, dir)
	if err != nil {
		b.Fatal(err)
	}
	file = filepath.Join(dir, "sunday.mov")
	out, err := exec.Command("ffmpeg", "-nostdin", "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=1920x1080:rate=30,noise=alls=12:allf=t", "-i", filepath.Join(dir, "takes", truth.Audio),
		"-shortest", "-c:v", "libx264", "-preset", "ultrafast", "-b:v", "4400k", "-maxrate", "4600k", "-bufsize", "4600k", "-pix_fmt", "yuv420p", "-c:a", "aac", "-b:a", "128k",
		"-metadata", "location=+48.2082+016.3738/", file).CombinedOutput()
	if err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	return file, piece
}

// BenchmarkLastByteToHearing sends a phone's video of three minutes and 100 MB through the site, with real
// jobs, and times from the beginning of its last megabyte: until the browser is answered, until the page of
// the take has something to play, until the hearing is there, and until all files for pages are.
func BenchmarkLastByteToHearing(b *testing.B) {
	ctx, folder := b.Context(), b.TempDir()
	file, piece := phoneVideo(b, folder)
	video, err := os.ReadFile(file)
	if err != nil {
		b.Fatal(err)
	}
	st, err := store.OpenSQLite(ctx, filepath.Join(folder, "studio.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer st.Close()
	blobs, err := disk.Open(filepath.Join(folder, "files"))
	if err != nil {
		b.Fatal(err)
	}
	queue, err := jobs.OpenSQLite(ctx, st.DB(), jobs.Options{})
	if err != nil {
		b.Fatal(err)
	}
	d := studio.NewDesk(st, blobs, queue, studio.DeskOptions{FamilyDayBytes: 1 << 40})
	founded, teacher, err := d.Found(ctx, "Studio at the Mill", "Marit Sandoval")
	if err != nil {
		b.Fatal(err)
	}
	v := studio.Viewer{Studio: founded.ID, Role: studio.Teacher, Person: teacher.ID}
	ear := studio.Viewer{Studio: founded.ID, Role: studio.Ear}
	_, token, err := d.InviteFamily(ctx, v, studio.NewFamily{Name: "Okafor", Students: []studio.NewStudent{{Name: "Ada", Media: studio.FullVideo}}}, studio.Asked{})
	if err != nil {
		b.Fatal(err)
	}
	_, secret, err := d.Redeem(ctx, token, studio.Redemption{Name: "Ngozi Okafor", Device: "phone", Agrees: true})
	if err != nil {
		b.Fatal(err)
	}
	w, err := d.AddWork(ctx, v, studio.Work{Title: piece.Title, Score: piece.MusicXML()})
	if err != nil {
		b.Fatal(err)
	}
	children, err := d.Students(ctx, v)
	if err != nil {
		b.Fatal(err)
	}
	working, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	hands := listen.New(d, listen.Options{Dir: folder})
	go func() { ended <- queue.Work(working, hands.Do) }()
	defer func() {
		stop()
		if err := <-ended; err != nil {
			b.Error(err)
		}
	}()
	f, err := page.New(page.Options{Desk: d})
	if err != nil {
		b.Fatal(err)
	}
	a, err := New(f, Options{Dir: filepath.Join(folder, "half")})
	if err != nil {
		b.Fatal(err)
	}
	mux := http.NewServeMux()
	a.Routes(mux)
	server := httptest.NewServer(f.Guard(mux))
	defer server.Close()
	site := &webtest.Site{Studio: &webtest.Studio{}, URL: server.URL}
	p := &phone{b, site.Client(b, secret), server.URL, server.URL}

	var answered, playable, heard, whole time.Duration
	for n := 0; b.Loop(); n++ {
		b.StopTimer()
		video = append(video, 0) // other bytes each time; what stands behind a video does not disturb it
		at, status, text := p.begin(int64(len(video)), said("child", string(children[0].ID), "work", string(w.ID), "filename", "Sunday.mov", "filetype", "video/quicktime"))
		if status != http.StatusCreated {
			b.Fatal(status, text)
		}
		id := studio.TakeID(path.Base(at))
		rest := int64(len(video)) - 1e6
		if a, text, err := p.patch(at, 0, video[:rest]); err != nil || a.StatusCode != http.StatusNoContent {
			b.Fatal(text, err)
		}
		b.StartTimer()
		start := time.Now()
		if a, text, err := p.patch(at, rest, video[rest:]); err != nil || a.StatusCode != http.StatusNoContent {
			b.Fatal(text, err)
		}
		answered += time.Since(start)
		var plays, ready time.Duration
		for {
			t, err := d.ReviewTake(ctx, v, id)
			if err != nil {
				b.Fatal(err)
			}
			if _, ok := listen.Player(t.Media); ok && plays == 0 {
				plays = time.Since(start)
			}
			if ready == 0 && (t.Take.State == studio.Ready || t.Take.State == studio.NeedsALook) {
				ready = time.Since(start)
				b.StopTimer()
				if t.Take.State != studio.Ready || len(t.Hearing.JSON) == 0 || t.Take.Summary.RightShare < 0.95 {
					b.Fatalf("%+v", t.Take)
				}
			}
			ms, err := d.Files(ctx, ear, id)
			if err != nil {
				b.Fatal(err)
			}
			if ready > 0 && len(ms) == 4 { // original, peaks, poster, playable
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
		playable, heard, whole = playable+plays, heard+ready, whole+time.Since(start)
		b.StartTimer()
	}
	per := func(d time.Duration) float64 { return d.Seconds() / float64(b.N) }
	b.ReportMetric(float64(len(video))/1e6, "MB")
	b.ReportMetric(per(answered), "s/answer")
	b.ReportMetric(per(playable), "s/playable")
	b.ReportMetric(per(heard), "s/hearing")
	b.ReportMetric(per(whole), "s/all-files")
}
