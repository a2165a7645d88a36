package main

import (
	"fmt"
	"io"
	"strings"

	"antiphon/internal/plan"
	"antiphon/internal/plan/calendar"
	"antiphon/internal/plan/forecast"
)

// forecastCmd says when collections will be finished.
type forecastCmd struct {
	File    string  `arg:"" optional:"" help:"State of a studio as JSON; - reads it from standard input."`
	Student string  `help:"Only this student, by id." placeholder:"ID"`
	Today   *string `help:"The day of the forecast, in place of the file's." placeholder:"DATE"`
	JSON    bool    `name:"json" help:"Print it for programs (antiphon.forecast/1)."`
	Example bool    `help:"Print the state of an invented studio, to begin from."`
	fromStudio
}

// Help is what `antiphon forecast --help` says below the usage line.
func (forecastCmd) Help() string {
	return `Says when the works that are left of a student's collection will be finished, as ranges that hold one in two and four in
five times, with the reasons; plans back from a recital; and says how good earlier forecasts were. There is no single
date, because nobody knows one.

` + stateHelp + `
Example:
  antiphon forecast --example > studio.json
  antiphon forecast studio.json
  antiphon forecast studio.json --student nora --json
  antiphon forecast --data antiphon-data`
}

// Run looks ahead.
func (c *forecastCmd) Run(a *app) error {
	if c.Example {
		return printExample(a, c.File)
	}
	p, _, err := c.fromStudio.openState(a, c.File, c.Today, c.Student)
	if err != nil {
		return err
	}
	o := p.Forecast()
	if c.Student != "" {
		kept := []plan.Ahead{}
		for _, s := range o.Students {
			if s.Student == c.Student {
				kept = append(kept, s)
			}
		}
		o.Students = kept
	}
	if c.JSON {
		return encode(a.out, struct {
			Schema string `json:"schema"`
			plan.Outlook
		}{"antiphon.forecast/1", o})
	}
	return forecastText(a.out, o)
}

func forecastText(w io.Writer, o plan.Outlook) error {
	var b strings.Builder
	if len(o.Students) == 0 {
		b.WriteString("Nobody here goes through a collection or has a recital to come.\n")
	}
	for _, s := range o.Students {
		fmt.Fprintf(&b, "%s\n", printable(s.Name))
		if s.Half != nil && len(s.Left) == 0 {
			fmt.Fprintf(&b, "  %s is finished.\n", printable(s.Collection))
		} else if s.Half != nil {
			fmt.Fprintf(&b, "  %s, likely finished\n    one time in two       %s\n    four times in five    %s\n", printable(s.Collection), between(*s.Half, false), between(*s.Most, s.Open))
			fmt.Fprintf(&b, "  Left: %s.\n", printable(strings.Join(s.Left, ", ")))
			for _, r := range s.Reasons {
				fmt.Fprintf(&b, "    %s\n", printable(r))
			}
		}
		if s.StageWords != "" {
			fmt.Fprintf(&b, "  Recital: %s\n", printable(s.StageWords))
			for _, m := range s.Stages {
				fmt.Fprintf(&b, "    %s\n", printable(m.Say))
			}
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(&b, "%s\n", printable(o.Score))
	_, err := io.WriteString(w, b.String())
	return err
}

func between(r forecast.Range, open bool) string {
	if open {
		return "from " + about(r.From) + " on"
	}
	if r.From == r.To {
		return about(r.From)
	}
	return about(r.From) + " to " + about(r.To)
}

func about(d calendar.Day) string { return d.Short() }
