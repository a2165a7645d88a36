package desk

import "net/http"

// download is a file that is made while it goes out. Its head is written with its first byte, so that what
// fails before is told as a page.
type download struct {
	w          http.ResponseWriter
	kind, name string
	begun      bool
}

func (d *download) Write(b []byte) (int, error) {
	if !d.begun {
		d.begun = true
		d.w.Header().Set("Content-Type", d.kind)
		d.w.Header().Set("Content-Disposition", `attachment; filename="`+d.name+`"`) // a name of ours, plain ASCII
	}
	return d.w.Write(b)
}

// done ends the download. A file that broke off half way must not look whole: the connection is cut.
func (d *download) done(err error) error {
	if err != nil && d.begun {
		panic(http.ErrAbortHandler)
	}
	if err == nil && !d.begun { // an empty file is a file
		_, err = d.Write(nil)
	}
	return err
}
