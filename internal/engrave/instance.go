package engrave

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
)

// instance is one running copy of the engraving library. It serves one caller at a time.
type instance struct {
	runtime wazero.Runtime
	mod     api.Module
	names   map[string]string
	toolkit uint64
	ctx     context.Context // of the work in hand: its end stops the library
}

// stop makes the library trap at its next turn of any loop.
func (in *instance) stop() {
	if g, ok := in.mod.ExportedGlobal(stopName).(api.MutableGlobal); ok {
		g.Set(1)
	}
}

// errRefused is the library's own no; the instance stays usable.
var errRefused = errors.New("the engraving library cannot read it")

func (in *instance) call(name string, args ...uint64) (uint64, error) {
	fn := in.mod.ExportedFunction(in.names[name])
	if fn == nil {
		return 0, fmt.Errorf("the engraving library has no function %s: give one that scripts/engraver built", name)
	}
	res, err := fn.Call(in.ctx, args...)
	if err != nil {
		return 0, fmt.Errorf("%w (%s: %w)", ErrTrapped, name, err)
	}
	if len(res) == 0 {
		return 0, nil
	}
	return res[0], nil
}

// withText calls a function of the toolkit with one text, which it gets as a C string.
func (in *instance) withText(name, text string) (uint64, error) {
	at, err := in.call("malloc", uint64(len(text)+1))
	if err != nil {
		return 0, err
	}
	if at == 0 || !in.mod.Memory().Write(uint32(at), append([]byte(text), 0)) {
		return 0, fmt.Errorf("%w (no memory left)", ErrTrapped)
	}
	res, err := in.call(name, in.toolkit, at)
	if err != nil {
		return 0, err
	}
	if _, err := in.call("free", at); err != nil {
		return 0, err
	}
	return res, nil
}

// text copies a C string out of the library's memory.
func (in *instance) text(at uint64) (string, error) {
	mem := in.mod.Memory()
	rest, ok := mem.Read(uint32(at), mem.Size()-uint32(at))
	if !ok {
		return "", fmt.Errorf("%w (a text outside its memory)", ErrTrapped)
	}
	end := bytes.IndexByte(rest, 0)
	if end < 0 {
		return "", fmt.Errorf("%w (a text without an end)", ErrTrapped)
	}
	return string(rest[:end]), nil
}

// render gives the pages of a score in MEI as SVG.
func (in *instance) render(mei string, options map[string]any) ([]string, error) {
	o, err := json.Marshal(options)
	if err != nil {
		return nil, err
	}
	if _, err := in.call("resetOptions", in.toolkit); err != nil {
		return nil, err
	}
	if _, err := in.call("resetXmlIdSeed", in.toolkit, 1); err != nil { // the same score, the same bytes
		return nil, err
	}
	if _, err := in.withText("setOptions", string(o)); err != nil {
		return nil, err
	}
	read, err := in.withText("loadData", mei)
	if err != nil {
		return nil, err
	}
	if uint32(read) == 0 {
		return nil, errRefused
	}
	count, err := in.call("getPageCount", in.toolkit)
	if err != nil {
		return nil, err
	}
	var pages []string
	for n := range uint64(uint32(count)) {
		at, err := in.call("renderToSVG", in.toolkit, n+1, 0)
		if err != nil {
			return nil, err
		}
		svg, err := in.text(at)
		if err != nil {
			return nil, err
		}
		pages = append(pages, svg)
	}
	return pages, nil
}

// timemap gives the times of all notes as the library sees them. Only tests ask for it.
func (in *instance) timemap() (string, error) {
	at, err := in.withText("renderToTimemap", `{"includeMeasures":true}`)
	if err != nil {
		return "", err
	}
	return in.text(at)
}
