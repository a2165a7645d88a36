package week_test

import (
	"archive/zip"
	"bytes"
	"io"
	"net/http"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// noise is more than a writer in between holds back.
func (k kitchen) noise(t *testing.T, name string) studio.TakeID {
	t.Helper()
	status, _, to := k.upload(t, k.Okafor.Device, map[string]string{"child": string(k.ada.ID)}, name, "audio/wav", bytes.Repeat([]byte(name), 20_000))
	if status != http.StatusSeeOther {
		t.Fatal(status)
	}
	id, _, _ := strings.Cut(strings.TrimPrefix(to, "/week/takes/"), "?")
	return studio.TakeID(id)
}

// A download that cannot go on is cut: a browser must not keep half a file as whole.
func TestAnExportThatBreaksOffIsNotWhole(t *testing.T) {
	k := open(t)
	k.noise(t, "one.wav")
	k.noise(t, "two.wav")
	ms, err := k.Store.Media(t.Context(), studio.OneFamily(k.Okafor.Coach.Studio, k.Okafor.Family.ID), "")
	if err != nil || len(ms) != 2 {
		t.Fatal(ms, err)
	}
	if err := k.Blobs.Remove(t.Context(), ms[1].Key()); err != nil { // a disk that lost a file
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, k.URL+"/week/data/export", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := k.Client(t, k.Okafor.Device).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	if a.StatusCode != http.StatusOK {
		t.Fatalf("status %d before the first file", a.StatusCode)
	}
	if n, err := io.Copy(io.Discard, a.Body); err == nil {
		t.Errorf("%d bytes look whole", n)
	}
}

// during does something with the first bytes that are written.
type during struct {
	bytes.Buffer
	do func()
}

func (d *during) Write(b []byte) (int, error) {
	if d.do != nil {
		d.do()
		d.do = nil
	}
	return d.Buffer.Write(b)
}

// What is deleted while it is exported is left out, and the rest comes whole.
func TestDeletedDuringAnExport(t *testing.T) {
	k := open(t)
	var ids []studio.TakeID
	for _, name := range []string{"one.wav", "two.wav", "three.wav"} {
		ids = append(ids, k.noise(t, name))
	}
	ctx := t.Context()
	ear := studio.Viewer{Studio: k.Teacher.Studio, Role: studio.Ear}
	w := &during{do: func() {
		for _, id := range ids[1:] {
			if _, err := k.Desk.DeleteTake(ctx, k.Okafor.Coach, id); err != nil {
				t.Error(err)
			}
		}
		if err := k.Desk.Sweep(ctx, ear); err != nil {
			t.Error(err)
		}
	}}
	if err := k.Desk.ExportFamily(ctx, k.Okafor.Coach, k.Okafor.Family.ID, w); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(w.Bytes()), int64(w.Len()))
	if err != nil {
		t.Fatal(err)
	}
	files := 0
	for _, f := range z.File {
		if strings.HasPrefix(f.Name, "files/") {
			files++
		}
	}
	if files == 0 || files == len(ids) {
		t.Errorf("%d of %d files are there", files, len(ids))
	}
}
