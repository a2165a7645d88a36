package studio

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
)

func TestRecoveryCodes(t *testing.T) {
	code, err := newRecoveryCode(bytes.NewReader(bytes.Repeat([]byte{0xff}, 10)))
	if err != nil || code != "zzzz-zzzz-zzzz-zzzz" { // 80 one bits: sixteen times 31, Crockford's z
		t.Errorf("%q, %v", code, err)
	}
	if _, err := newRecoveryCode(strings.NewReader("short")); err == nil {
		t.Error("a code from too little randomness")
	}
	want := hashRecoveryCode("k0m1-23ab-zz9y-0011")
	for _, copied := range []string{"K0M1 23AB ZZ9Y 0011", "kom1-23ab-zz9y-ooll", " k0mi23abzz9y0o1l\n", "k0m1–23ab–zz9y–0011"} {
		if hashRecoveryCode(copied) != want {
			t.Errorf("%q is not taken for the code", copied)
		}
	}
	for _, other := range []string{"k0m1-23ab-zz9y-0012", "k0m1-23ab-zz9y-001", ""} {
		if hashRecoveryCode(other) == want {
			t.Errorf("%q is taken for the code", other)
		}
	}
}

// TestNobodysHash: what is checked where there is no password costs what a real one costs, so that the
// time of an answer tells nothing.
func TestNobodysHash(t *testing.T) {
	p, salt, key, err := argon2id.DecodeHash(nobodysHash)
	if err != nil || *p != argon || len(salt) != int(argon.SaltLength) || len(key) != int(argon.KeyLength) {
		t.Errorf("%+v, %d, %d, %v; real ones have %+v", p, len(salt), len(key), err, argon)
	}
	d := NewDesk(nil, nil, nil, DeskOptions{})
	if right, err := d.rightPassword(t.Context(), "", ""); right || err != nil {
		t.Errorf("no password opens: %v, %v", right, err)
	}
	real, err := d.hashPassword(t.Context(), "three blind mice")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		password, hash string
		want           bool
	}{{"three blind mice", real, true}, {"three blind mices", real, false}, {"three blind mice", "", false}, {"", real, false}, {strings.Repeat("three blind mice", 100), real, false}} {
		if got, err := d.rightPassword(t.Context(), c.password, c.hash); got != c.want || err != nil {
			t.Errorf("%.20q: %v, %v", c.password, got, err)
		}
	}
}

func TestBareName(t *testing.T) {
	for in, want := range map[string]string{
		"take.mp4": "take.mp4", "../../etc/passwd": "passwd", `C:\Users\x\take 3.mov`: "take 3.mov", "/": "", "..": "", ".": "", "": "",
		"a\x00b.mp4": "a b.mp4", "x/..": "", "\xff.mp4": ".mp4", "<b>.mp4": "<b>.mp4", strings.Repeat("ä", 300): strings.Repeat("ä", 120),
	} {
		if got := bareName(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

func TestNights(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip(err)
	}
	d := NewDesk(nil, nil, nil, DeskOptions{Zone: berlin})
	for _, c := range []struct {
		now, due string // in UTC
		want     int
	}{
		{"2026-03-28T12:00:00Z", "2026-03-29T21:59:00Z", 1}, // the night that has an hour less in Berlin
		{"2026-03-28T12:00:00Z", "2026-03-29T22:01:00Z", 2},
		{"2026-03-27T23:30:00Z", "2026-03-28T00:30:00Z", 0}, // half past midnight there already
		{"2026-10-24T12:00:00Z", "2026-10-25T22:59:00Z", 1}, // and an hour more
		{"2026-03-10T12:00:00Z", "2026-03-08T12:00:00Z", -2},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		if err != nil {
			t.Fatal(err)
		}
		due, err := time.Parse(time.RFC3339, c.due)
		if err != nil {
			t.Fatal(err)
		}
		if got := nights(d.midnight(now), due); got != c.want {
			t.Errorf("from %s to %s: %d nights, want %d", c.now, c.due, got, c.want)
		}
	}
}

// TestOrderOfBundles shuffles what waits: pain, then the nearest promise, then the longest silence.
func TestOrderOfBundles(t *testing.T) {
	day := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	want := []Bundle{
		{Hurt: true, Due: day.AddDate(0, 0, 5), SilentDays: 1},
		{Hurt: true, Due: day.AddDate(0, 0, 6), SilentDays: 9},
		{Due: day, SilentDays: 3},
		{Due: day.AddDate(0, 0, 1), SilentDays: -1}, // never told anything
		{Due: day.AddDate(0, 0, 1), SilentDays: 40},
		{Due: day.AddDate(0, 0, 1), SilentDays: 2},
	}
	draw := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		got := slices.Clone(want)
		draw.Shuffle(len(got), func(i, j int) { got[i], got[j] = got[j], got[i] })
		slices.SortStableFunc(got, Bundle.compare)
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("order:\n%v\nwant\n%v", got, want)
		}
	}
}

func TestDailyRounds(t *testing.T) {
	var r rounds
	now, made := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), 0
	do := func() error { made++; return nil }
	for _, c := range []struct {
		later time.Duration
		want  int
	}{{0, 1}, {time.Hour, 1}, {23 * time.Hour, 2}, {23 * time.Hour, 2}, {time.Hour, 3}} {
		now = now.Add(c.later)
		if err := r.daily(now, "s", do); err != nil || made != c.want {
			t.Errorf("at %v: %d rounds, want %d, %v", now, made, c.want, err)
		}
	}
	now = now.AddDate(0, 0, 1)
	if err := r.daily(now, "s", func() error { return ErrConflict }); err == nil {
		t.Error("a failure is lost")
	}
	if err := r.daily(now, "s", do); err != nil || made != 4 {
		t.Errorf("one that failed is not made again: %d, %v", made, err)
	}
}
