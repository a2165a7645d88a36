package library_test

import (
	"fmt"
	"strings"
	"testing"

	"antiphon/internal/studio"
)

// long is a study of our own with so many bars of eight notes.
func long(bars int) string {
	var b strings.Builder
	b.WriteString("X:1\nT:Long study\nC:Own\nM:4/4\nL:1/8\nQ:1/4=72\nK:C\n")
	figures := []string{"C,EGcEGcG", "A,,EAcEAcA", "D,FAdFAdA", "G,,DGBDGBG", "E,GBeGBeB", "F,,CFAFCFA"}
	for i := range bars {
		b.WriteString(figures[i*5%len(figures)] + "|")
		if i%4 == 3 {
			b.WriteString("\n")
		}
	}
	return b.String() + "]\n"
}

// BenchmarkPages: what the pages cost with 1,000 works of 256 notes, 40 collections and a study of 1,600 notes.
func BenchmarkPages(b *testing.B) {
	s := open(b)
	w, usual := s.added(long(200)), s.added(long(32))
	var items []studio.CollectionItem
	for i := range 1000 {
		one, err := s.Desk.AddWork(b.Context(), s.Teacher, studio.Work{Title: fmt.Sprintf("Study %d", i+1), Composer: "Own", Rights: "own", Score: usual.Score})
		if err != nil {
			b.Fatal(err)
		}
		if items = append(items, studio.CollectionItem{Work: one.ID}); len(items) == 25 {
			if _, err := s.Desk.Shelve(b.Context(), s.Teacher, studio.Collection{Name: fmt.Sprintf("Shelf %d", i/25+1), Items: items}); err != nil {
				b.Fatal(err)
			}
			items = nil
		}
	}
	shelves, err := s.Desk.Collections(b.Context(), s.Teacher)
	if err != nil {
		b.Fatal(err)
	}
	s.fingeredPage(w, "")
	for _, p := range []struct{ name, path string }{
		{"list", "/library"}, {"search", "/library?words=study+77"}, {"work", "/library/works/" + string(w.ID)}, {"fingering", "/library/works/" + string(w.ID) + "/fingering?ask=yes"},
		{"collection", "/library/collections/" + string(shelves[0].ID)}, {"remedies", "/library/remedies"},
	} {
		b.Run(p.name, func(b *testing.B) {
			size := 0
			for b.Loop() {
				size = len(s.page(p.path))
			}
			b.ReportMetric(float64(size)/1024, "KB")
		})
	}
}
