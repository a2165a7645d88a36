package arrive

import (
	"errors"
	"mime"
	"net/http"
	"path"
	"strings"
	"time"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// served are the types that this site gives out. What a file says it is counts only where it is in this list.
var served = map[string]bool{
	"audio/mp4": true, "audio/mpeg": true, "audio/wav": true, "audio/ogg": true, "audio/webm": true, "audio/flac": true, "audio/aac": true,
	"video/mp4": true, "video/webm": true, "video/quicktime": true, "image/jpeg": true,
}

// media is GET /media/{media}: one file of a take, or a part of it. Every request is checked and written
// into the child's access log before a byte goes out, so that nothing in between may keep it unasked.
func (a *Arrivals) media(w http.ResponseWriter, r *http.Request) (err error) {
	id := studio.MediaID(r.PathValue("media"))
	if !studio.IsID(id) {
		return &studio.Problem{Kind: studio.NotFound, Say: "This is not here, or not for you to see."}
	}
	m, f, err := a.desk.Listen(r.Context(), page.Viewer(r), id)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	giveOut(w, m.Type, m.SHA256, m.Kind == studio.Original)
	http.ServeContent(w, r, "", time.Time{}, f)
	return nil
}

// giveOut writes the headers of a file. One of a type that is not served is no page and no script to a
// browser; with save it is only to be saved.
func giveOut(w http.ResponseWriter, mediaType, sha256 string, save bool) {
	h := w.Header()
	typ, _, err := mime.ParseMediaType(mediaType)
	if err != nil || !served[typ] {
		typ = "application/octet-stream"
		if save {
			h.Set("Content-Disposition", "attachment")
		}
	}
	h.Set("Content-Type", typ)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Cache-Control", "private, no-cache")
	h.Set("Content-Security-Policy", "default-src 'none'; sandbox")
	h.Set("ETag", `"`+sha256+`"`)
}

// types are what files of recordings are called whose type the browser does not know.
var types = map[string]string{
	".m4a": "audio/mp4", ".mp3": "audio/mpeg", ".wav": "audio/wav", ".ogg": "audio/ogg", ".oga": "audio/ogg", ".opus": "audio/ogg",
	".aac": "audio/aac", ".amr": "audio/amr", ".flac": "audio/flac", ".caf": "audio/x-caf", ".aif": "audio/aiff", ".aiff": "audio/aiff", ".3gp": "video/3gpp",
	".mp4": "video/mp4", ".m4v": "video/mp4", ".mov": "video/quicktime", ".webm": "video/webm", ".mkv": "video/x-matroska",
}

// typeOf is the media type that the browser says, or the one of the file's name where it says none of use.
func typeOf(name, said string) string {
	typ, _, err := mime.ParseMediaType(said)
	if err == nil && isRecording(typ) {
		return typ
	}
	if known := types[strings.ToLower(path.Ext(name))]; known != "" {
		return known
	}
	return typ
}

func isRecording(mediaType string) bool {
	return strings.HasPrefix(mediaType, "audio/") || strings.HasPrefix(mediaType, "video/")
}
