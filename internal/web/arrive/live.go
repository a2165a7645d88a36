package arrive

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"sync"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// told is one change of a take as it goes over the line.
type told struct {
	Take    studio.TakeID    `json:"take"`
	Student studio.StudentID `json:"student"`
	State   studio.TakeState `json:"state"`
	Say     string           `json:"say"` // the state in words
	Why     string           `json:"why,omitzero"`
}

// live tells open pages what became of takes. While anybody listens one goroutine for each studio asks
// the desk what changed; it ends with the last who listens.
type live struct {
	desk *studio.Desk
	log  *slog.Logger
	now  func() time.Time
	o    Options

	mu    sync.Mutex
	rooms map[studio.StudioID]*liveRoom
}

type liveRoom struct {
	stop  context.CancelFunc
	lines map[chan studio.Take]studio.Viewer
}

func newLive(f *page.Frame, o Options) *live {
	return &live{desk: f.Desk(), log: f.Log(), now: f.Now, o: o, rooms: map[studio.StudioID]*liveRoom{}}
}

const (
	lineHolds = 256             // changes that a slow line may be behind; then it is cut, and dials again
	lookBack  = 5 * time.Second // a change may become visible this much after its own time
)

// listen is GET /live: server-sent events (HTML standard, 9.2). An event's id is the moment of the change,
// so that a line that was cut goes on where it was.
func (l *live) listen(w http.ResponseWriter, r *http.Request) error {
	v := page.Viewer(r)
	ctl := http.NewResponseController(w)
	if err := ctl.SetWriteDeadline(time.Time{}); err != nil {
		l.log.Debug("an open line keeps the server's deadline", "err", err)
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Accel-Buffering", "no") // a proxy in between is not to save up
	line := l.join(v)
	defer l.leave(v, line)
	if _, err := fmt.Fprint(w, "retry: 3000\n\n"); err != nil {
		return err
	}
	if last, err := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64); err == nil && last > 0 {
		missed, err := l.desk.Changes(r.Context(), v, time.UnixMicro(last).UTC())
		if err != nil {
			return err
		}
		for _, t := range missed {
			if err := send(w, v, t); err != nil {
				return err
			}
		}
	}
	if err := ctl.Flush(); err != nil {
		return err
	}
	beat := time.NewTicker(l.o.Beat)
	defer beat.Stop()
	over := time.NewTimer(l.o.Line)
	defer over.Stop()
	for {
		var err error
		select {
		case <-r.Context().Done():
			return nil
		case <-over.C:
			return nil // it dials again, and is asked again who it is
		case <-beat.C:
			_, err = fmt.Fprint(w, ": still here\n\n")
		case t, open := <-line:
			if !open {
				return nil
			}
			err = send(w, v, t)
		}
		if err == nil {
			err = ctl.Flush()
		}
		if err != nil {
			return nil // the page has gone
		}
	}
}

func send(w http.ResponseWriter, v studio.Viewer, t studio.Take) error {
	b, err := json.Marshal(tell(v, t))
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "event: take\nid: %d\ndata: %s\n\n", t.Changed.UnixMicro(), b)
	return err
}

// tell puts a take's state into words for whoever asks. A family is not told what is the teacher's to look at.
func tell(v studio.Viewer, t studio.Take) told {
	e := told{Take: t.ID, Student: t.Student, State: t.State, Say: StateWords(v.Role, t.State)}
	if v.Role == studio.Teacher {
		e.Why = t.Why
	}
	return e
}

// StateWords says where a take is on its way.
func StateWords(to studio.Role, s studio.TakeState) string {
	switch s {
	case studio.Arriving:
		return "arriving"
	case studio.Waiting:
		return "arrived, waiting to be heard"
	case studio.BeingHeard:
		return "being heard"
	case studio.NeedsALook:
		if to == studio.Teacher {
			return "needs a look"
		}
		return "with the teacher"
	case studio.Ready:
		if to == studio.Teacher {
			return "ready"
		}
		return "with the teacher"
	}
	return string(s)
}

// join opens a line, and with the first of a studio its room.
func (l *live) join(v studio.Viewer) chan studio.Take {
	line := make(chan studio.Take, lineHolds)
	l.mu.Lock()
	defer l.mu.Unlock()
	room := l.rooms[v.Studio]
	if room == nil {
		ctx, stop := context.WithCancel(context.Background()) // it belongs to all lines together; the last one stops it
		room = &liveRoom{stop: stop, lines: map[chan studio.Take]studio.Viewer{}}
		l.rooms[v.Studio] = room
		go l.watch(ctx, v.Studio, room)
	}
	room.lines[line] = v
	return line
}

func (l *live) leave(v studio.Viewer, line chan studio.Take) {
	l.mu.Lock()
	defer l.mu.Unlock()
	room := l.rooms[v.Studio]
	if room == nil {
		return
	}
	delete(room.lines, line)
	if len(room.lines) == 0 {
		room.stop()
		delete(l.rooms, v.Studio)
	}
}

// watch asks what changed and tells the lines of a room.
func (l *live) watch(ctx context.Context, id studio.StudioID, room *liveRoom) {
	ear := studio.Viewer{Studio: id, Role: studio.Ear} // sees the whole studio; each line gets its own part
	last := time.Time{}
	known := map[studio.TakeID]time.Time{}
	tick := time.NewTicker(l.o.Poll)
	defer tick.Stop()
	for {
		since := last.Add(-lookBack)
		first := last.IsZero()
		if first {
			since = l.now().Add(-lookBack)
		}
		changed, err := l.desk.Changes(ctx, ear, since)
		if err != nil && ctx.Err() == nil {
			l.log.ErrorContext(ctx, "what changed could not be asked; it is tried again", "err", err)
		}
		for _, t := range changed {
			if t.Changed.After(last) {
				last = t.Changed
			}
			if known[t.ID].Equal(t.Changed) {
				continue
			}
			known[t.ID] = t.Changed
			l.spread(room, t)
		}
		if first && last.IsZero() {
			last = since.Add(lookBack)
		}
		for take, at := range known {
			if at.Before(last.Add(-2 * lookBack)) {
				delete(known, take)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// spread tells every line that may know. One that is too far behind is cut; it dials again and asks for
// what it missed.
func (l *live) spread(room *liveRoom, t studio.Take) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for line, v := range room.lines {
		if v.Role != studio.Teacher && v.Family != t.Family {
			continue
		}
		select {
		case line <- t:
		default:
			delete(room.lines, line)
			close(line)
		}
	}
}
