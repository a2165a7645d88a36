package lesson

import (
	"antiphon/internal/studio"
)

// kind is how a kind of task is called on the teacher's pages.
type kind struct {
	Ask  studio.Ask
	Name string // as it is chosen
	Does string // what it is for, in one line
}

// kinds are all, in the order in which they are offered.
func kinds() []kind {
	return []kind{
		{studio.AskPlay, "Play", ""},
		{studio.AskListen, "Listen to a recording", "Of what comes next. A question about it returns in the next lesson until it is answered."},
		{studio.AskNames, "Say the note names while playing", "Aloud, up and back down."},
		{studio.AskTogether, "Play against a second part", "A round or another part, by the tool or by the parent."},
		{studio.AskChoose, "Try two fingerings and choose", "The child tries both; the family says which one it was."},
		{studio.AskAdd, "A new goal on a known piece", "Loud and soft, or tone, on notes that are safe."},
		{studio.AskHeld, "Held back for now", "Not to be played yet. The family sees what would open it."},
		{studio.AskKeep, "Keep a technique alive", "A little of it, often."},
		{studio.AskRead, "Read notes", ""},
		{studio.AskRest, "Rest", "Nothing is played. Hands and ears rest."},
	}
}

func kindName(a studio.Ask) string {
	for _, k := range kinds() {
		if k.Ask == a {
			return k.Name
		}
	}
	return string(a)
}

// option is one entry of a list to choose from.
type option struct {
	Value, Say string
	Chosen     bool
}

func kindsFor(a studio.Ask) (all []option) {
	for _, k := range kinds() {
		all = append(all, option{string(k.Ask), k.Name, k.Ask == a})
	}
	return all
}

// called is a word that families read in their own language, and how it is called on the teacher's pages.
type called struct{ Key, Say string }

// tones are the places where a string is plucked.
func tones() []called {
	return []called{{"bridge", "near the bridge"}, {"hole", "over the hole"}, {"neck", "over the neck"}}
}

func strokes() []called {
	return []called{{"free", "free stroke"}, {"rest", "rest stroke"}}
}

// kept is the word for what the teacher chose from a list; what she wrote herself stays as it is.
func kept(list []called, say string) string {
	for _, c := range list {
		if c.Say == say {
			return c.Key
		}
	}
	return say
}

// said is the other way round.
func said(list []called, key string) string {
	for _, c := range list {
		if c.Key == key {
			return c.Say
		}
	}
	return key
}
