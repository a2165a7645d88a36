package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/unix"

	"antiphon/internal/cage"
	"antiphon/internal/engrave"
	"antiphon/internal/jobs"
	pages "antiphon/internal/web/page"
)

// checkupCmd says whether this machine has what a studio needs.
type checkupCmd struct {
	Data string `help:"Folder of the studio." default:"antiphon-data" placeholder:"FOLDER"`
	JSON bool   `name:"json" help:"Print the result for programs."`
	mailFlags
}

// Help is what antiphon checkup --help says below the usage line.
func (checkupCmd) Help() string {
	return `Looks at what a studio needs on this machine, opens the studio as serve does, and says what to do about what is missing.
It ends with 1 where something is missing that a studio cannot do without.

Example:
  antiphon checkup --data /var/lib/antiphon
  antiphon checkup --mail-server smtp.example.org:587 --mail-from notes@example.org --mail-password-file secret`
}

// check is one line of the result.
type check struct {
	What   string `json:"what"`
	State  string `json:"state"` // good, lacking (works less well), missing (does not work)
	Say    string `json:"say"`
	Advice string `json:"advice,omitempty"`
}

const (
	good    = "good"
	lacking = "lacking"
	missing = "missing"
)

// Run looks and tells.
func (c *checkupCmd) Run(a *app) error {
	checks := []check{c.recordings(a), c.wall(a), c.pages(), c.music(), c.room(), c.database(a), c.mail(a.ctx)}
	if c.JSON {
		e := json.NewEncoder(a.out)
		e.SetIndent("", " ")
		if err := e.Encode(checks); err != nil {
			return err
		}
	}
	bad := 0
	for _, k := range checks {
		if k.State == missing {
			bad++
		}
		if c.JSON {
			continue
		}
		fmt.Fprintf(a.out, "%-8s %s: %s\n", k.State, k.What, printable(k.Say))
		if k.Advice != "" {
			fmt.Fprintf(a.out, "         %s\n", printable(k.Advice))
		}
	}
	if bad > 0 {
		return fmt.Errorf("%d of %d things that a studio needs are missing: see above", bad, len(checks))
	}
	return nil
}

// recordings: ffmpeg and ffprobe with what phones send.
func (c *checkupCmd) recordings(a *app) check {
	k := check{What: "reading recordings", State: missing, Advice: "Run: apt-get install ffmpeg"}
	var out bytes.Buffer
	for _, program := range []string{"ffprobe", "ffmpeg"} {
		out.Reset()
		_, err := cage.Job{Program: program, Args: []string{"-hide_banner", "-loglevel", "error", "-version"}, Stdout: &out}.Run(a.ctx)
		if errors.Is(err, cage.ErrNotInstalled) {
			k.Say = program + " is not installed"
			return k
		}
		if err != nil {
			k.Say = fmt.Sprintf("%s does not run (%v)", program, err)
			return k
		}
	}
	version, _, _ := strings.Cut(out.String(), "\n")
	out.Reset()
	if _, err := (cage.Job{Program: "ffmpeg", Args: []string{"-hide_banner", "-loglevel", "error", "-encoders"}, Stdout: &out}).Run(a.ctx); err != nil {
		k.Say = fmt.Sprintf("ffmpeg does not say what it can (%v)", err)
		return k
	}
	for _, encoder := range []string{" aac ", " libx264 "} {
		if !strings.Contains(out.String(), encoder) {
			k.Say, k.Advice = version+" lacks"+encoder+"and cannot make what every browser plays", "Install a complete ffmpeg."
			return k
		}
	}
	return check{What: k.What, State: good, Say: strings.TrimSpace(strings.TrimPrefix(version, "ffmpeg version "))}
}

// wall: what keeps a hostile recording inside.
func (c *checkupCmd) wall(a *app) check {
	k := check{What: "the wall round foreign files", State: good, Say: "no network, no other files, no children left behind"}
	r, err := cage.Job{Program: "true"}.Run(a.ctx)
	if err != nil {
		return check{What: k.What, State: missing, Say: fmt.Sprintf("nothing can be run inside it (%v)", err), Advice: "Run the program on Linux, as an ordinary user."}
	}
	if len(r.Missing) > 0 {
		var names []string
		for _, g := range r.Missing {
			names = append(names, string(g))
		}
		k.State, k.Say = lacking, "the kernel does not guard "+strings.Join(names, ", ")
		k.Advice = "Recordings are still read with limits on time and memory. A kernel with Landlock and user namespaces guards better."
	}
	return k
}

func (c *checkupCmd) pages() check {
	if _, err := pages.New(pages.Options{}); err != nil {
		return check{What: "pages", State: missing, Say: err.Error()}
	}
	return check{What: "pages", State: good, Say: "built in"}
}

func (c *checkupCmd) music() check {
	if !engrave.Available() {
		return check{What: "engraved music", State: missing, Say: engrave.ErrNoLibrary.Error()}
	}
	return check{What: "engraved music", State: good, Say: "built in"}
}

// leastRoom is what should be free for recordings: a few weeks of them.
const leastRoom = 2 << 30

// room: the data folder can be written and has space. A folder that is not there yet is judged by its parent.
func (c *checkupCmd) room() check {
	k := check{What: "room for recordings", State: missing}
	dir, err := filepath.Abs(c.Data)
	if err != nil {
		k.Say = err.Error()
		return k
	}
	for {
		st, err := os.Stat(dir)
		if err == nil && !st.IsDir() {
			k.Say, k.Advice = dir+" is no folder", "Choose another --data."
			return k
		}
		if err == nil {
			break
		}
		if !errors.Is(err, fs.ErrNotExist) || dir == filepath.Dir(dir) {
			k.Say, k.Advice = fmt.Sprintf("%s cannot be looked at (%v)", dir, cause(err)), "Choose another --data, or check its permissions."
			return k
		}
		dir = filepath.Dir(dir)
	}
	if err := unix.Access(dir, unix.W_OK); err != nil {
		k.Say, k.Advice = dir+" cannot be written", "Give the folder to the user that the program runs as."
		return k
	}
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		k.Say = fmt.Sprintf("the disk of %s does not say how full it is (%v)", dir, err)
		return k
	}
	free := int64(st.Bavail) * st.Bsize
	k.State, k.Say = good, fmt.Sprintf("%.1f GB free in %s", float64(free)/1e9, dir)
	if free < leastRoom {
		k.State, k.Advice = lacking, "Make room: when the disk is full, new recordings are refused."
	}
	return k
}

// database: it opens, and says itself that it is whole. One that is not there yet is no fault.
func (c *checkupCmd) database(a *app) check {
	k := check{What: "the studio", State: good, Say: "none here yet; antiphon serve makes it"}
	if _, err := os.Stat(filepath.Join(c.Data, databaseFile)); err != nil {
		return k
	}
	k.State = missing
	flags := studioFlags{Data: c.Data}
	o, err := flags.open(a.ctx, jobs.Options{})
	if err != nil {
		k.Say, k.Advice = err.Error(), "Bring back the copy of the studio; keep this one aside."
		return k
	}
	defer o.close()
	var said string
	if err := o.store.DB().QueryRowContext(a.ctx, "PRAGMA quick_check").Scan(&said); err != nil || said != "ok" {
		k.Say, k.Advice = fmt.Sprintf("the database is damaged (%s%v)", said, err), "Bring back the copy of the studio; keep this one aside."
		return k
	}
	st, there, err := o.desk.Home(a.ctx)
	switch {
	case err != nil:
		k.Say = err.Error()
		return k
	case !there:
		k.State, k.Say = lacking, "it has no teacher yet"
		k.Advice = "Start antiphon serve and open the address that it prints."
	default:
		k.State, k.Say = good, st.Name+", whole"
	}
	return k
}

// warnMissing writes into the log what takes cannot be heard without. They wait until it is there.
func warnMissing(a *app, log *slog.Logger) {
	var c checkupCmd
	for _, k := range []check{c.recordings(a), c.wall(a)} {
		if k.State == missing && a.ctx.Err() == nil {
			log.Error("takes cannot be heard here", slog.String("what", k.What), slog.String("why", k.Say), slog.String("do", k.Advice))
		}
	}
}
