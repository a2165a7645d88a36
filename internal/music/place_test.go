package music

import "testing"

func TestPlaceOf(t *testing.T) {
	for words, want := range map[string]Place{
		"sul ponticello": NearBridge, "Pont.": NearBridge, "metálico": NearBridge, "sul tasto": OverNeck, "dolce": OverNeck, "sulla boca": OverHole,
	} {
		if got, said := PlaceOf(words); got != want || !said {
			t.Errorf("%q: got %q, %v, want %q", words, got, said, want)
		}
	}
	if got, said := PlaceOf("naturale"); got != AnyPlace || !said {
		t.Errorf("naturale: got %q, %v", got, said)
	}
	for _, other := range []string{"rit.", "cantabile", "", "Andante"} {
		if _, said := PlaceOf(other); said {
			t.Errorf("%q is no place", other)
		}
	}
}

func TestPlacesStandInOrder(t *testing.T) {
	p := Part{Directions: []Direction{
		{Kind: Words, Text: "naturale", At: Quarters(8, 1), Bar: 2}, {Kind: Words, Text: "rit.", At: Quarters(6, 1), Bar: 1}, {Kind: Words, Text: "sul tasto", At: Quarters(4, 1), Bar: 1}}}
	got := p.Places()
	if len(got) != 2 || got[0].Bar != 1 || got[0].Place != OverNeck || got[1].Bar != 2 || got[1].Place != AnyPlace {
		t.Fatalf("got %+v", got)
	}
}
