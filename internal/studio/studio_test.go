package studio

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"testing"
)

func TestIDs(t *testing.T) {
	// Crockford's base32 (https://www.crockford.com/base32.html), in small letters: 128 zero bits are
	// 26 zeros; 128 one bits are 25 times 31 (z) and three bits, 111, filled up to 11100, which is 28 (w).
	for in, want := range map[byte]TakeID{0x00: "00000000000000000000000000", 0xff: "zzzzzzzzzzzzzzzzzzzzzzzzzw"} {
		got, err := NewID[TakeID](bytes.NewReader(bytes.Repeat([]byte{in}, 16)))
		if err != nil || got != want {
			t.Errorf("%#x: %s, %v, want %s", in, got, err, want)
		}
		if !IsID(got) {
			t.Errorf("%s is called no id", got)
		}
	}
	if id, err := NewID[TakeID](strings.NewReader("too short")); err == nil {
		t.Errorf("an id from too little randomness: %s", id)
	}
	for _, no := range []TakeID{"", "*", "0", "..", "../../../../../../etc/passwd", "00000000000000000000000000/", "0000000000000000000000000/",
		"0000000000000000000000000U", "0000000000000000000000000\x00", "ääääääääääääa"} {
		if IsID(no) {
			t.Errorf("%q is called an id", no)
		}
	}
}

func TestTokenHash(t *testing.T) {
	// SHA-256 of "abc": FIPS 180-2, appendix B.1.
	if got := hashToken("abc"); got != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("hash of abc: %s", got)
	}
	token, hash, err := newToken(bytes.NewReader(make([]byte, 32)))
	if err != nil || hash != hashToken(token) || len(token) != 43 { // 256 bits in signs of six
		t.Errorf("token %q, hash %q, %v", token, hash, err)
	}
}

func TestScopes(t *testing.T) {
	const st, fam = StudioID("11111111111111111111111111"), FamilyID("22222222222222222222222222")
	for _, c := range []struct {
		name string
		v    Viewer
		want Scope
	}{
		{"teacher", Viewer{Studio: st, Role: Teacher}, WholeStudio(st)},
		{"teacher with a family's name", Viewer{Studio: st, Role: Teacher, Family: fam}, WholeStudio(st)},
		{"coach", Viewer{Studio: st, Role: Coach, Family: fam}, OneFamily(st, fam)},
		{"coach of nobody", Viewer{Studio: st, Role: Coach}, Scope{}},
		{"coach who would be every family", Viewer{Studio: st, Role: Coach, Family: everyFamily}, Scope{}},
		{"unknown role", Viewer{Studio: st, Role: "owner", Family: fam}, Scope{}},
		{"nobody", Viewer{}, Scope{}},
	} {
		if got := c.v.scope(); got != c.want {
			t.Errorf("%s sees %+v, want %+v", c.name, got, c.want)
		}
	}
}

func TestWhatMayBeSent(t *testing.T) {
	for _, c := range []struct {
		media MediaMode
		typ   string
		want  Kind // "" allowed
	}{
		{SoundOnly, "audio/mp4", ""}, {SoundOnly, "video/mp4", NotAllowed}, {HandsOnly, "video/webm", ""}, {FullVideo, "audio/ogg", ""},
		{FullVideo, "text/html", Invalid}, {FullVideo, "audio", Invalid}, {FullVideo, "audio/", Invalid}, {FullVideo, "", Invalid},
		{FullVideo, "audio/mp4\r\nX: y", Invalid}, {FullVideo, "video/" + strings.Repeat("x", 100), Invalid}, {FullVideo, "application/audio", Invalid},
	} {
		err := Allowed(Student{Name: "Mira", Media: c.media}, c.typ)
		var got Kind
		if p, ok := errors.AsType[*Problem](err); ok {
			got = p.Kind
		}
		if got != c.want {
			t.Errorf("%q where %s is agreed: %v, want %q", c.typ, c.media, err, c.want)
		}
	}
}

func TestProblems(t *testing.T) {
	sentence := regexp.MustCompile(`^[A-Z][^\n]*\.$`)
	for _, c := range []struct {
		err  error
		want Kind
	}{
		{ErrNotFound, NotFound}, {fmt.Errorf("asking: %w", ErrNotFound), NotFound}, {ErrConflict, Conflict}, {ErrTooLarge, TooLarge},
		{errors.New("disk on fire"), Internal}, {fmt.Errorf("on the way: %w", invalid("A work needs a title.")), Invalid},
	} {
		p, ok := errors.AsType[*Problem](problemOf(c.err))
		if !ok || p.Kind != c.want || !sentence.MatchString(p.Say) {
			t.Errorf("%v: %+v, want %s and a sentence", c.err, p, c.want)
		}
		if ok && p.Kind == Internal && strings.Contains(p.Say, "fire") {
			t.Errorf("a person is shown the cause: %s", p.Say)
		}
	}
	if err := problemOf(nil); err != nil {
		t.Errorf("a problem of nothing: %v", err)
	}
}

func TestTidy(t *testing.T) {
	for in, want := range map[string]string{" a \t b\n": "a b", "a\x00b": "a b", "\xff": "", "Zoë": "Zoë", "\u0085": ""} {
		if got := tidy(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}
