package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"golang.org/x/sync/errgroup"

	"antiphon/internal/jobs"
	"antiphon/internal/listen"
	"antiphon/internal/scenario"
	"antiphon/internal/studio"
	"antiphon/internal/web"
)

// demoCmd opens a studio in an invented scenario.
type demoCmd struct {
	Listen  string `help:"Address to answer at, on this machine." default:"127.0.0.1:8080" placeholder:"ADDR"`
	Data    string `help:"Folder of the demo's studio; a new temporary one where it is not given. A demo that is there is opened again." placeholder:"FOLDER"`
	Prepare bool   `help:"Make the studio in --data, with the recordings that wait and those beside them, and stop."`
}

// Help is what antiphon demo --help says below the usage line.
func (demoCmd) Help() string {
	return `Opens a studio with twelve invented families and sixteen children, four months of lessons and takes, and this week's takes on the desk.
What waits is recorded now, on recorded guitar notes, and heard by the ear while you look; the recordings of earlier weeks follow in the background.
It prints a link for the teacher and one for a family. Nothing leaves this machine.

Example:
  antiphon demo
  antiphon demo --listen 127.0.0.1:9000 --data demo-studio`
}

// demoKeys is the file with the secrets of the demo's browsers, in its data folder.
const demoKeys = "demo.json"

// enterable is what is kept of a demo beside its studio.
type enterable struct {
	Teacher, Family string             // secrets of devices that are bound to the demo's people
	Later           []scenario.Unheard // takes of earlier weeks, whose recordings follow
	Beside          int                // of Later: how many lie beside a take that waits
}

// Run makes the studio or opens it again, and serves it until it is interrupted.
func (c *demoCmd) Run(a *app) error {
	switch {
	case !loopback(c.Listen):
		return usage("%s can be reached from other machines, and anybody could enter the demo: listen on 127.0.0.1", c.Listen)
	case c.Prepare && c.Data == "":
		return usage("--prepare makes the studio in a folder: name it with --data")
	}
	if c.Data == "" {
		dir, err := os.MkdirTemp("", "antiphon-demo-")
		if err != nil {
			return fmt.Errorf("no temporary folder can be made (%w): give a folder with --data", cause(err))
		}
		defer os.RemoveAll(dir)
		c.Data = dir
	}
	log := newLog(a.err, a.errTerm, slog.LevelWarn)
	keys, err := c.keys()
	if err != nil {
		return err
	}
	letGo, err := hold(c.Data)
	if err != nil {
		return err
	}
	defer letGo()
	flags := studioFlags{Data: c.Data}
	o, err := flags.open(a.ctx, jobs.Options{AtOnce: hearings, Alone: true, Log: log})
	if err != nil {
		return err
	}
	defer o.close()
	making, err := o.making()
	if err != nil {
		return err
	}
	_, noVoice := exec.LookPath("espeak-ng")
	d := &demo{recorder: scenario.NewRecorder(making, noVoice == nil), a: a, c: c, o: o, making: making, log: log, hands: listen.New(o.desk, listen.Options{Log: log, Dir: making})}
	if keys == nil {
		if keys, err = d.build(); err != nil {
			return err
		}
	}
	if c.Prepare {
		return d.prepare(*keys)
	}
	return d.serve(*keys)
}

// demo is one run of the command.
type demo struct {
	a      *app
	c      *demoCmd
	o      *opened
	making string
	log    *slog.Logger
	hands  *listen.Hands
	built  *scenario.Built // nil for a demo that was there

	recorder *scenario.Recorder
}

// keys reads the secrets of a demo that is there. A folder with another studio in it is left alone.
func (c *demoCmd) keys() (*enterable, error) {
	b, err := os.ReadFile(filepath.Join(c.Data, demoKeys))
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Lstat(filepath.Join(c.Data, databaseFile)); err == nil {
			return nil, fmt.Errorf("%s holds a studio that is no finished demo, and is left alone: give another --data", c.Data)
		}
		return nil, nil
	}
	var k enterable
	if err == nil {
		err = json.Unmarshal(b, &k)
	}
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read (%w): give another --data", filepath.Join(c.Data, demoKeys), cause(err))
	}
	return &k, nil
}

// build tells the story. The worker hears what waits while the rest is still being recorded.
func (d *demo) build() (*enterable, error) {
	bar := newProgress(d.a, "recording this week's takes")
	defer bar.done()
	var err error
	d.built, err = scenario.Build(d.a.ctx, scenario.Options{Store: d.o.store, Blobs: d.o.blobs, Jobs: d.o.queue, Recorder: d.recorder, Now: d.a.now(),
		Said: func(done, all int) { bar.at(float64(done) / float64(all)) }})
	if err != nil {
		return nil, fmt.Errorf("the demo could not be made (%w): run apt-get install ffmpeg espeak-ng fluidsynth timgm6mb-soundfont, and try again", err)
	}
	if !d.recorder.Recorded() {
		fmt.Fprintln(d.a.err, "antiphon: there are no recorded guitar notes here, so the takes are played on modelled strings; for recorded ones run apt-get install fluidsynth timgm6mb-soundfont")
	}
	keys := &enterable{d.built.Teacher, d.built.Family, d.built.Later, d.built.Beside}
	return keys, writeWhole(filepath.Join(d.c.Data, demoKeys), false, func(w io.Writer) error { return json.NewEncoder(w).Encode(keys) })
}

// prepare hears what waits, and makes the recordings that lie beside it. The others follow when the demo is opened.
func (d *demo) prepare(keys enterable) error {
	ctx, stop := context.WithCancel(d.a.ctx)
	defer stop()
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return d.o.queue.Work(ctx, d.hands.Do) })
	g.Go(func() error {
		defer stop()
		if err := d.record(ctx, keys.Later[:keys.Beside]); err != nil {
			return err
		}
		return d.settled(ctx)
	})
	if err := g.Wait(); err != nil && d.a.ctx.Err() == nil && !errors.Is(err, context.Canceled) {
		return err
	}
	if d.a.ctx.Err() != nil {
		return d.a.ctx.Err()
	}
	_, err := fmt.Fprintf(d.a.out, "The demo's studio is in %s. Open it: antiphon demo --data %[1]s\n", printable(d.c.Data))
	return err
}

// settled waits until no job is left.
func (d *demo) settled(ctx context.Context) error {
	for {
		left, err := d.o.queue.Left(ctx)
		if err != nil || !left {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(200 * time.Millisecond):
		}
	}
}

func (d *demo) serve(keys enterable) error {
	open := listenFlags{Listen: d.c.Listen}
	line, at, err := open.open(d.a.ctx, "")
	if err != nil {
		return err
	}
	defer line.Close()
	engraver, err := newEngraver(d.making)
	if err != nil {
		return err
	}
	defer engraver.Close()
	site, err := web.New(web.Options{Desk: d.o.desk, Engraver: engraver, Folder: d.making, Log: d.log, EnterByLink: true})
	if err != nil {
		return err
	}
	g, ctx := errgroup.WithContext(d.a.ctx)
	g.Go(func() error { return answer(ctx, line, site) })
	g.Go(func() error { return site.Tend(ctx) })
	g.Go(func() error { return warm(ctx, engraver) })
	g.Go(func() error { return d.o.queue.Work(ctx, d.hands.Do) })
	g.Go(func() error { return d.hands.Keep(ctx, 0) })
	g.Go(func() error { return d.tell(ctx, at, keys) })
	return ended(d.a.ctx, g.Wait())
}

// tell says where to look once what waits has been heard, and then makes the recordings of earlier weeks.
func (d *demo) tell(ctx context.Context, at string, keys enterable) error {
	if d.built != nil {
		ear := studio.Viewer{Studio: d.built.Studio.ID, Role: studio.Ear}
		if err := d.heard(ctx, ear); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(d.a.out, "teacher: %s/enter/%s\nfamily: %s/enter/%s\n", at, keys.Teacher, at, keys.Family)
	if err != nil {
		return err
	}
	if err := d.record(ctx, keys.Later); err != nil && ctx.Err() == nil {
		d.log.Warn("recordings of earlier weeks are missing", "error", err) // the studio is open all the same
	}
	return nil
}

// record makes recordings of earlier weeks.
func (d *demo) record(ctx context.Context, later []scenario.Unheard) error {
	home, _, err := d.o.desk.Home(ctx)
	if err != nil {
		return err
	}
	return scenario.Record(ctx, d.o.desk, home.ID, d.recorder, later)
}

// heard waits until the ear has been through this week's takes.
func (d *demo) heard(ctx context.Context, ear studio.Viewer) error {
	for {
		busy := 0
		for _, state := range []studio.TakeState{studio.Waiting, studio.BeingHeard} {
			takes, err := d.o.desk.TakesBy(ctx, ear, studio.TakeQuery{State: state, Limit: 1})
			if err != nil {
				return err
			}
			busy += len(takes)
		}
		if busy == 0 {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
	}
}
