package store_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"antiphon/internal/store"
	"antiphon/internal/studio"
)

const (
	benchFamilies = 300
	benchTakes    = 333 // of each: about 100,000, three years of a large studio
)

// BenchmarkLargeStudio asks what pages ask, of a studio of 300 families and 100,000 takes with
// hearings of 2 kB, in SQLite. It reports milliseconds a question.
func BenchmarkLargeStudio(b *testing.B) {
	ctx := b.Context()
	s, err := store.OpenSQLite(ctx, filepath.Join(b.TempDir(), "studio.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	draw := rand.NewChaCha8([32]byte{7})
	st, err := studio.NewID[studio.StudioID](draw)
	if err != nil {
		b.Fatal(err)
	}
	var fams []studio.FamilyID
	var takes []studio.Take
	if err := s.Within(ctx, func(tx studio.Records) error {
		fams, takes, err = large(ctx, tx, draw, st)
		return err
	}); err != nil {
		b.Fatal(err)
	}
	whole := studio.WholeStudio(st)
	for _, q := range []struct {
		name string
		ask  func(n int) error
	}{
		{"one take with its files, hearing and remarks", func(n int) error {
			t := takes[n*7919%len(takes)]
			in := studio.OneFamily(st, t.Family)
			if _, err := s.Take(ctx, in, t.ID); err != nil {
				return err
			}
			if _, err := s.Media(ctx, in, t.ID); err != nil {
				return err
			}
			if hs, err := s.Hearings(ctx, in, t.ID); err != nil || len(hs) != 1 {
				return fmt.Errorf("%d hearings, %w", len(hs), err)
			}
			_, err := s.Remarks(ctx, in, t.ID)
			return err
		}},
		{"all takes of a family", func(n int) error {
			ts, err := s.Takes(ctx, studio.OneFamily(st, fams[n*101%len(fams)]), studio.TakeQuery{})
			if err == nil && len(ts) != benchTakes {
				err = fmt.Errorf("%d takes", len(ts))
			}
			return err
		}},
		{"who waits in the studio", func(int) error {
			ts, err := s.Takes(ctx, whole, studio.TakeQuery{State: studio.Waiting})
			if err == nil && len(ts) != benchFamilies {
				err = fmt.Errorf("%d takes", len(ts))
			}
			return err
		}},
		{"the same bytes in a family", func(n int) error {
			t := takes[n*7919%len(takes)]
			_, err := s.SameBytes(ctx, studio.OneFamily(st, t.Family), "sum of "+string(t.ID))
			return err
		}},
		{"takes whose time is over", func(int) error {
			_, err := s.TakesUntil(ctx, st, time.Date(2023, 1, 1, 0, 0, 0, 0, time.UTC))
			return err
		}},
	} {
		b.Run(q.name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				if err := q.ask(n); err != nil {
					b.Fatal(err)
				}
				n++
			}
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/question")
		})
	}
}

func large(ctx context.Context, tx studio.Records, draw *rand.ChaCha8, st studio.StudioID) (fams []studio.FamilyID, takes []studio.Take, err error) {
	doc := json.RawMessage(`{"schema":"antiphon.hearing/1","filled":"` + strings.Repeat("x", 2000) + `"}`)
	start := time.Date(2023, 9, 1, 16, 0, 0, 0, time.UTC)
	if err := tx.AddStudio(ctx, studio.Studio{ID: st, Name: "Lindenhof", KeepDays: 1000, Founded: start}); err != nil {
		return nil, nil, err
	}
	for range benchFamilies {
		f, err := studio.NewID[studio.FamilyID](draw)
		if err != nil {
			return nil, nil, err
		}
		fams = append(fams, f)
		if err := tx.AddFamily(ctx, studio.Family{ID: f, Studio: st, Name: "Abel", Since: start}); err != nil {
			return nil, nil, err
		}
		if err := tx.AddStudent(ctx, studio.Student{ID: studio.StudentID(f), Studio: st, Family: f, Name: "Mira", Media: studio.FullVideo, Since: start}); err != nil {
			return nil, nil, err
		}
		for n := range benchTakes {
			id, err := studio.NewID[studio.TakeID](draw)
			if err != nil {
				return nil, nil, err
			}
			at := start.Add(time.Duration(n) * 79 * time.Hour)
			t := studio.Take{ID: id, Studio: st, Family: f, Student: studio.StudentID(f), State: studio.Ready, Announced: at, Arrived: at, KeepUntil: at.AddDate(3, 0, 0)}
			if n == benchTakes-1 {
				t.State = studio.Waiting
			}
			takes = append(takes, t)
			if err := tx.AddTake(ctx, t); err != nil {
				return nil, nil, err
			}
			if err := tx.AddMedia(ctx, studio.Media{ID: studio.MediaID(id), Studio: st, Family: f, Take: id, Kind: studio.Original, Type: "video/mp4", Bytes: 1, SHA256: "sum of " + string(id)}); err != nil {
				return nil, nil, err
			}
			if err := tx.AddHearing(ctx, studio.Hearing{ID: studio.HearingID(id), Studio: st, Family: f, Take: id, Schema: "antiphon.hearing/1", JSON: doc, Heard: at}); err != nil {
				return nil, nil, err
			}
		}
	}
	return fams, takes, nil
}
