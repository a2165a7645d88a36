package sheet

import (
	"antiphon/internal/engrave"
	"antiphon/internal/web/tongue"
)

// speechOf is how bars are read aloud in a language.
func speechOf(t *tongue.Tongue) (engrave.Speech, error) {
	var in engrave.Speech
	for _, x := range []struct {
		into   *string
		key    string
		blanks []any
	}{
		{&in.Bar, "bar", []any{"%s"}}, {&in.Silence, "silence", nil}, {&in.Grace, "grace", []any{"%s"}}, {&in.Beat, "beat", []any{"%s"}},
		{&in.One, "one", nil}, {&in.Part, "part", []any{"%s"}}, {&in.More, "more", []any{"%s"}},
		{&in.For, "for", []any{"%s", "%s"}}, {&in.And, "and", nil}, {&in.Finger, "finger", []any{"%s", "%s"}}, {&in.Open, "open", []any{"%s"}}, {&in.With, "with", []any{"%s", "%s"}},
		{&in.Sharp, "sharp", nil}, {&in.Flat, "flat", nil}, {&in.DoubleSharp, "double-sharp", nil}, {&in.DoubleFlat, "double-flat", nil},
	} {
		var err error
		if *x.into, err = t.Say("sheet.aloud."+x.key, x.blanks...); err != nil {
			return in, err
		}
	}
	in.And = " " + in.And + " "
	if t.Code != tongue.English { // as the family’s page names them where nobody chose
		in.Names = engrave.DoReMi
	}
	return in, nil
}
