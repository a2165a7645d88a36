package notation

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"antiphon/internal/music"
)

// maxEntries of a compressed score, and maxContainer bytes of the list of its contents.
const (
	maxEntries   = 1000
	maxContainer = 1 << 20
)

// readMXL reads a compressed MusicXML file: a zip archive whose META-INF/container.xml names the score.
// Nothing is unpacked to disk.
func readMXL(data []byte, lim Limits, p *pardons) (*music.Score, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return nil, illFormed(0, "", "the compressed file is damaged or cut short", err)
	}
	if len(z.File) > maxEntries {
		return nil, tooLarge("the compressed file holds more than %d files", maxEntries)
	}
	files := map[string]*zip.File{}
	for _, f := range z.File {
		if outside(f.Name) {
			return nil, &ReadError{Kind: Hostile, Err: ErrPath,
				Say: fmt.Sprintf("the compressed file holds a path that leads out of it (%q); it was not opened", printable(clip(f.Name, 80)))}
		}
		files[f.Name] = f
	}
	name, err := rootFile(files, lim, p)
	if err != nil {
		return nil, err
	}
	f := files[name]
	if f == nil {
		if f = firstScore(z.File); f == nil {
			return nil, &ReadError{Kind: NotAScore, Say: "this is a compressed file without a MusicXML score in it", Err: ErrNotAScore}
		}
		p.add(0, "", "the compressed file does not name its score; the first one in it was read")
	}
	text, err := unzip(f, int64(len(data)), lim.UnzippedBytes, lim.Ratio)
	if err != nil {
		return nil, err
	}
	if sniff(text) != formatXML {
		return nil, &ReadError{Kind: NotAScore, Say: "the compressed file holds something else than a MusicXML score", Err: ErrNotAScore}
	}
	return readXML(text, lim, p)
}

func outside(name string) bool {
	if name == "" || strings.HasPrefix(name, "/") || strings.ContainsAny(name, "\\\x00") || (len(name) > 1 && name[1] == ':') {
		return true
	}
	for _, part := range strings.Split(name, "/") {
		if part == ".." {
			return true
		}
	}
	return false
}

// rootFile is the score that the container names; "" if it names none that is there.
func rootFile(files map[string]*zip.File, lim Limits, p *pardons) (string, error) {
	c := files["META-INF/container.xml"]
	if c == nil {
		return "", nil
	}
	text, err := unzip(c, maxContainer, maxContainer, lim.Ratio)
	if err != nil {
		return "", err
	}
	x, err := newXMLStream(text, lim, p)
	if err != nil {
		return "", err
	}
	name, first := "", ""
	for name == "" {
		t, err := x.next()
		if err != nil {
			return "", err
		}
		if t == nil {
			break
		}
		e, ok := t.(xml.StartElement)
		if !ok || e.Name.Local != "rootfile" {
			continue
		}
		first = or(first, attrOf(e.Attr, "full-path"))
		if kind := attrOf(e.Attr, "media-type"); kind == "" || strings.Contains(kind, "musicxml") {
			name = attrOf(e.Attr, "full-path")
		}
	}
	if name = or(name, first); name == "" {
		return "", nil
	}
	if outside(name) {
		return "", &ReadError{Kind: Hostile, Err: ErrPath,
			Say: fmt.Sprintf("the compressed file names a score outside itself (%q); it was not opened", printable(clip(name, 80)))}
	}
	if files[name] == nil {
		name = path.Clean(name)
	}
	return name, nil
}

// firstScore is the first file at the top, or else anywhere, that has the name of a score.
func firstScore(files []*zip.File) *zip.File {
	var first *zip.File
	for _, f := range files {
		ext := strings.ToLower(path.Ext(f.Name))
		if strings.HasPrefix(f.Name, "META-INF/") || strings.HasPrefix(f.Name, "__MACOSX/") || (ext != ".xml" && ext != ".musicxml") {
			continue
		}
		if !strings.Contains(f.Name, "/") {
			return f
		}
		if first == nil {
			first = f
		}
	}
	return first
}

// unzip reads one file of an archive, trusting no size that the archive states.
func unzip(f *zip.File, archived, limit, ratio int64) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, illFormed(0, "", "the compressed file is damaged or locked with a password", err)
	}
	defer r.Close()
	// Small files may shrink to next to nothing: the ratio counts from 1 MB.
	packed := min(max(int64(f.CompressedSize64), 0), archived)
	if byRatio := max(1<<20, packed*ratio); byRatio < limit {
		limit = byRatio
	}
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if int64(len(data)) > limit {
		return nil, &ReadError{Kind: Hostile, Err: ErrBomb,
			Say: fmt.Sprintf("the compressed file unpacks to more than %d MB; it was not read. Send the score uncompressed", max(1, limit>>20))}
	}
	if err != nil {
		return nil, illFormed(0, "", "the compressed file is damaged or cut short", err)
	}
	return data, nil
}
