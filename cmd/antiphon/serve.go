package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"

	"golang.org/x/sync/errgroup"

	"antiphon/internal/jobs"
	"antiphon/internal/listen"
	"antiphon/internal/studio"
	"antiphon/internal/web"
)

// serveCmd opens the studio for its teacher and its families.
type serveCmd struct {
	studioFlags
	listenFlags
	mailFlags
	Inbox    string `help:"Folder to watch: recordings put there are taken in." placeholder:"FOLDER"`
	NoWorker bool   `help:"Answer only; takes are heard by antiphon worker, elsewhere."`
}

// Help is what `antiphon serve --help` says below the usage line.
func (serveCmd) Help() string {
	return `Opens the studio: the teacher's desk and the families' pages. The first start prints an address that works once, for the teacher.
Everything is in the data folder: the database studio.db and the recordings in files/. See docs/running.md.

Example:
  antiphon serve --data /var/lib/antiphon --domain studio.example.org
  antiphon serve --data studio --listen 127.0.0.1:8080 --inbox ~/recordings`
}

// Run serves until it is interrupted.
func (c *serveCmd) Run(a *app) error {
	if err := c.listenFlags.check(); err != nil {
		return err
	}
	log, quiet := newLog(a.err, a.errTerm, slog.LevelInfo), newLog(a.err, a.errTerm, slog.LevelWarn)
	letGo, err := hold(c.Data)
	if err != nil {
		return err
	}
	defer letGo()
	o, err := c.studioFlags.open(a.ctx, jobs.Options{AtOnce: hearings, Alone: !c.NoWorker, Log: quiet})
	if err != nil {
		return err
	}
	defer o.close()
	line, at, err := c.listenFlags.open(a.ctx, filepath.Join(c.Data, certsFolder))
	if err != nil {
		return err
	}
	defer line.Close()
	making, err := o.making()
	if err != nil {
		return err
	}
	engraver, err := newEngraver(making)
	if err != nil {
		return err
	}
	defer engraver.Close()
	told, err := c.mailFlags.open(o.desk, c.Data, c.known(at), log)
	if err != nil {
		return err
	}
	site, err := web.New(web.Options{Desk: o.desk, Engraver: engraver, Address: c.public(), Folder: making,
		Secure: c.listenFlags.secure(), Client: c.listenFlags.client(), Log: log, Notices: told.onPages()})
	if err != nil {
		return err
	}
	if err := c.welcome(a, o.desk, cmp.Or(c.public(), at)); err != nil {
		return err
	}
	g, ctx := errgroup.WithContext(a.ctx)
	g.Go(func() error { return answer(ctx, line, site) })
	g.Go(func() error { return site.Tend(ctx) })
	g.Go(func() error { return warm(ctx, engraver) })
	if !c.NoWorker {
		hands := listen.New(o.desk, listen.Options{Log: log, Dir: making, Tell: told.teller.Tell}) // recordings stay in our own folder, also for a moment
		g.Go(func() error { return o.queue.Work(ctx, hands.Do) })
		g.Go(func() error { return hands.Keep(ctx, 0) })
		g.Go(func() error { warnMissing(a, log); return nil })
	}
	if c.Inbox != "" {
		box := listen.Inbox{Desk: o.desk, Dir: c.Inbox, Log: log}
		g.Go(func() error { return box.Watch(ctx) })
	}
	return ended(a.ctx, g.Wait())
}

// welcome prints where the studio is, and before there is a teacher the address that makes one.
func (c *serveCmd) welcome(a *app, desk *studio.Desk, at string) error {
	secret, err := desk.OpenSetUp(a.ctx)
	if p, ok := errors.AsType[*studio.Problem](err); ok && p.Kind == studio.Conflict {
		_, err = fmt.Fprintf(a.out, "The studio is open at %s\n", at)
		return err
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.out, "A new studio. Open this address once, in the teacher's browser:\n%s/set-up/%s\n", at, secret)
	return err
}

// ended forgives that we were asked to stop, and keeps what went wrong by itself meanwhile.
func ended(ctx context.Context, err error) error {
	switch {
	case ctx.Err() == nil || err == nil:
		return err
	case errors.Is(err, context.Canceled):
		return nil
	}
	return lastWords{err}
}

// lastWords is an error that counts although we were asked to stop.
type lastWords struct{ error }

func (l lastWords) Unwrap() error { return l.error }

// workerCmd hears takes beside a serve that only answers.
type workerCmd struct {
	studioFlags
	mailFlags
	AtOnce  int    `help:"Takes to hear at once." default:"2" placeholder:"N"`
	Address string `help:"How browsers reach the studio, for the links in notices." placeholder:"URL"`
}

// Help is what `antiphon worker --help` says below the usage line.
func (workerCmd) Help() string {
	return `Hears the takes of a studio that another process serves with --no-worker. Several may run at the same time, on PostgreSQL also on other machines.

Example:
  antiphon worker --database postgres://antiphon@db/antiphon --files "s3://recordings?endpoint=https://store.example"`
}

// Run works until it is interrupted.
func (c *workerCmd) Run(a *app) error {
	if c.AtOnce < 1 || c.AtOnce > 64 {
		return usage("--at-once %d cannot be: give 1 to 64", c.AtOnce)
	}
	log, quiet := newLog(a.err, a.errTerm, slog.LevelInfo), newLog(a.err, a.errTerm, slog.LevelWarn)
	o, err := c.studioFlags.open(a.ctx, jobs.Options{AtOnce: c.AtOnce, Log: quiet})
	if err != nil {
		return err
	}
	defer o.close()
	making, err := o.making()
	if err != nil {
		return err
	}
	log.Info("waiting for takes", slog.Int("at once", c.AtOnce))
	told, err := c.mailFlags.open(o.desk, c.Data, c.Address, log)
	if err != nil {
		return err
	}
	hands := listen.New(o.desk, listen.Options{Log: log, Dir: making, Tell: told.teller.Tell})
	warnMissing(a, log)
	g, ctx := errgroup.WithContext(a.ctx)
	g.Go(func() error { return o.queue.Work(ctx, hands.Do) })
	g.Go(func() error { return hands.Keep(ctx, 0) })
	return ended(a.ctx, g.Wait())
}
