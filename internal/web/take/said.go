package take

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"mime"
	"mime/multipart"
	"net/http"
	"strconv"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// Limits of what one remark brings along.
const (
	mostAloud   = 200 << 20 // bytes of a recording of two minutes, filmed
	mostField   = 64 << 10  // bytes of any other field
	mostShapes  = 40        // drawn on one picture
	mostPlaces  = 3         // that a shape has
	longestTake = 24 * 3600 // seconds
)

// remark keeps what the teacher says at a place. The recording is the last field of the form, so that
// it goes straight to where it is kept.
func (p *Pages) remark(w http.ResponseWriter, r *http.Request) error {
	page.Takes(w, r, mostAloud)
	fields, aloud, err := parts(r)
	if err != nil {
		return err
	}
	at, err := anchorOf(fields)
	if err != nil {
		return err
	}
	if err := p.known(r, fields["remedy"]); err != nil {
		return err
	}
	_, err = p.desk.RemarkAloud(r.Context(), page.Viewer(r), studio.TakeID(r.PathValue("take")), at, fields["text"], fields["remedy"], aloud)
	if err != nil {
		return err
	}
	return done(w, r, "The remark is kept.", "#say")
}

// known refuses a remedy that stands neither in the printed book nor in the teacher's own.
func (p *Pages) known(r *http.Request, remedy string) error {
	if remedy == "" {
		return nil
	}
	book, err := p.ownBook(r)
	if err != nil {
		return err
	}
	if _, ok := book.Entry(remedy); !ok {
		return &studio.Problem{Kind: studio.Invalid, Say: "What was taken over is no entry of the book any more. Take over another one, or write the remark in your own words."}
	}
	return nil
}

// parts reads a form's fields, and leaves the recording in it to be read on.
func parts(r *http.Request) (map[string]string, studio.Recording, error) {
	fields := map[string]string{}
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/form-data" {
		if err := r.ParseForm(); err != nil {
			return nil, studio.Recording{}, broken(err)
		}
		for name := range r.PostForm {
			fields[name] = r.PostForm.Get(name)
		}
		return fields, studio.Recording{}, nil
	}
	m, err := r.MultipartReader()
	if err != nil {
		return nil, studio.Recording{}, broken(err)
	}
	for {
		part, err := m.NextPart()
		if errors.Is(err, io.EOF) {
			return fields, studio.Recording{}, nil
		}
		if err != nil {
			return nil, studio.Recording{}, broken(err)
		}
		if part.FormName() == "aloud" {
			return fields, studio.Recording{Type: typeOf(part), Body: part}, nil
		}
		b, err := io.ReadAll(io.LimitReader(part, mostField+1))
		if err != nil {
			return nil, studio.Recording{}, broken(err)
		}
		if len(b) > mostField {
			return nil, studio.Recording{}, &studio.Problem{Kind: studio.TooLarge, Say: "A field of the remark is too long."}
		}
		fields[part.FormName()] = string(b)
	}
}

func typeOf(part *multipart.Part) string {
	kind, _, err := mime.ParseMediaType(part.Header.Get("Content-Type"))
	if err != nil {
		return "application/octet-stream"
	}
	return kind
}

func broken(err error) error {
	if tooLarge, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return tooLarge
	}
	return &studio.Problem{Kind: studio.Invalid, Say: "The remark did not arrive whole. Send it again.", Err: err}
}

func anchorOf(f map[string]string) (studio.Anchor, error) {
	a := studio.Anchor{Bar: short(f["bar"]), Note: short(f["note"])}
	if v := f["at"]; v != "" {
		var err error
		if a.AtS, err = seconds(v); err != nil {
			return a, err
		}
	}
	if v := f["frame"]; v != "" {
		drawn, err := drawing(v)
		if err != nil {
			return a, err
		}
		a.Frame = drawn
	}
	return a, nil
}

// short is the name of a bar or note: what is longer is none.
func short(s string) string {
	if s = strings.TrimSpace(s); len(s) > 20 {
		return ""
	}
	return strings.ToValidUTF8(s, "")
}

// seconds reads a place in a take.
func seconds(v string) (float64, error) {
	s, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(v), ",", ".", 1), 64)
	if err != nil || math.IsNaN(s) || s < 0 || s > longestTake {
		return 0, &studio.Problem{Kind: studio.Invalid, Say: "A place in the recording is given in seconds from its start, such as 12.5."}
	}
	return s, nil
}

// drawn is what stands on a frozen picture: see _drawing.ts.
type drawn struct {
	W      float64 `json:"w"`
	H      float64 `json:"h"`
	Shapes []shape `json:"shapes"`
}

type shape struct {
	Kind string       `json:"kind"`
	P    [][2]float64 `json:"p"`
}

// drawing reads what came from the browser and writes it anew, so that nothing else is kept with it.
func drawing(v string) (json.RawMessage, error) {
	nonsense := &studio.Problem{Kind: studio.Invalid, Say: "The drawing on the picture did not arrive whole. Draw it again."}
	var d drawn
	if err := json.Unmarshal([]byte(v), &d); err != nil {
		nonsense.Err = err
		return nil, nonsense
	}
	if !(d.W >= 1 && d.W <= 1e5) || !(d.H >= 1 && d.H <= 1e5) || len(d.Shapes) == 0 || len(d.Shapes) > mostShapes {
		return nil, nonsense
	}
	for _, s := range d.Shapes {
		want := map[string]int{"line": 2, "arrow": 2, "angle": mostPlaces}[s.Kind]
		if want == 0 || len(s.P) != want {
			return nil, nonsense
		}
		for _, q := range s.P {
			if !(q[0] >= 0 && q[0] <= 1) || !(q[1] >= 0 && q[1] <= 1) {
				return nil, nonsense
			}
		}
	}
	return json.Marshal(d)
}

func (p *Pages) changeRemark(w http.ResponseWriter, r *http.Request) error {
	fields, _, err := parts(limited(w, r))
	if err != nil {
		return err
	}
	if _, err := p.desk.ChangeRemark(r.Context(), page.Viewer(r), studio.RemarkID(r.PathValue("remark")), fields["text"]); err != nil {
		return err
	}
	return done(w, r, "The remark is changed.", "#say")
}

func (p *Pages) removeRemark(w http.ResponseWriter, r *http.Request) error {
	if err := p.desk.RemoveRemark(r.Context(), page.Viewer(r), studio.RemarkID(r.PathValue("remark"))); err != nil {
		return err
	}
	return done(w, r, "The remark is taken away.", "#say")
}

// limited is a form without a recording.
func limited(w http.ResponseWriter, r *http.Request) *http.Request {
	r.Body = http.MaxBytesReader(w, r.Body, 4*mostField)
	return r
}

func wantsJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}
