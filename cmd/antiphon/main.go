// Command antiphon is the working desk of a teacher who teaches by exchanged recordings.
//
// Each command is one file, named like the command, with a struct that holds its kong tags and has
//
//	Run(a *app) error // do the work: results to a.out, one error or none back
//	Help() string     // what `antiphon CMD --help` says below the usage line; ends with "Example:"
//
// and one line in the struct `commands` below. Run returns an error whose text is one sentence that
// says what went wrong, where, and what to do; main prints it on one line and exits 1. Return
// usage(…) for a wrong use of flags: that exits 2. Output files go through writeWhole (output.go),
// foreign text that is shown in a terminal through printable (printable.go).
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/alecthomas/kong"
	"golang.org/x/term"
)

// commands is the whole command line. The owner of a command adds its line here.
type commands struct {
	Score    scoreCmd    `cmd:"" help:"Show a score as Antiphon understands it."`
	Hear     hearCmd     `cmd:"" help:"Hear a take against its score and say what was played."`
	Exercise exerciseCmd `cmd:"" help:"Compose an exercise from a recipe, or from a passage that needs work."`
	Finger   fingerCmd   `cmd:"" help:"Choose strings, frets and fingers for a score."`
	Sound    soundCmd    `cmd:"" help:"Play a score into a file, for listening and playing along."`
	Engrave  engraveCmd  `cmd:"" help:"Put a score on the page as a guitarist reads it: SVG, PDF or PNG."`
	Plan     planCmd     `cmd:"" help:"Propose the coming week for each student, with the reason for every line."`
	Forecast forecastCmd `cmd:"" help:"Say when a collection will be finished, as ranges, and plan back from a recital."`
	Serve    serveCmd    `cmd:"" help:"Open the studio for its teacher and its families."`
	Worker   workerCmd   `cmd:"" help:"Hear the takes of a studio that another process serves."`
	Checkup  checkupCmd  `cmd:"" help:"Say whether this machine has what a studio needs."`
	Demo     demoCmd     `cmd:"" help:"Open a studio in an invented scenario."`
}

// app is what a command gets from the world. Nothing below reads the clock or a standard stream
// except through it.
type app struct {
	ctx     context.Context // ends on the first interrupt
	in      io.Reader
	out     io.Writer
	err     io.Writer
	now     func() time.Time
	errTerm bool // stderr is a terminal: progress may be drawn there
	outTerm bool // stdout is a terminal
	outCols int  // columns of that terminal, 0 where it is none
}

// Exit codes, as promised in the design.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

// usageError is a wrong use of the command line.
type usageError struct{ error }

// usage makes the error of a wrong use; its text says what to write instead.
func usage(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	a := &app{
		ctx: ctx, in: os.Stdin, out: os.Stdout, err: os.Stderr, now: time.Now,
		errTerm: term.IsTerminal(int(os.Stderr.Fd())),
		outTerm: term.IsTerminal(int(os.Stdout.Fd())),
	}
	if a.outTerm {
		a.outCols, _, _ = term.GetSize(int(os.Stdout.Fd())) // 0 where the terminal does not say
	}
	context.AfterFunc(ctx, stop) // a second interrupt ends the program at once
	os.Exit(run(a, os.Args[1:]))
}

// run does what args ask and gives the exit code.
func run(a *app, args []string) (code int) {
	type exit int
	defer func() { // kong leaves through Exit after --help
		if r := recover(); r != nil {
			e, ok := r.(exit)
			if !ok {
				panic(r)
			}
			code = int(e)
		}
	}()
	parser, err := kong.New(&commands{},
		kong.Name("antiphon"),
		kong.Description("The desk of a teacher who teaches by exchanged recordings."),
		kong.Writers(a.out, a.err),
		kong.Exit(func(n int) { panic(exit(n)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
		kong.Bind(a),
	)
	if err != nil {
		fmt.Fprintln(a.err, "antiphon:", err)
		return exitFailed
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	chosen, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintf(a.err, "antiphon: %s. See antiphon --help\n", printable(err.Error()))
		return exitUsage
	}
	err = chosen.Run()
	if _, wrongUse := errors.AsType[usageError](err); wrongUse {
		fmt.Fprintf(a.err, "antiphon: %s\n", printable(err.Error()))
		return exitUsage
	}
	if err != nil {
		if _, own := errors.AsType[lastWords](err); a.ctx.Err() != nil && !own {
			err = errors.New("stopped before the work was done; no file was written")
		}
		fmt.Fprintf(a.err, "antiphon: %s\n", printable(err.Error()))
		return exitFailed
	}
	return exitDone
}
