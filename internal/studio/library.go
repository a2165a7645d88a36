package studio

import "time"

// Work is a piece, a study or an exercise with its score.
type Work struct {
	ID       WorkID
	Studio   StudioID
	Title    string
	Composer string
	Exercise bool   // made by the composer of exercises, from Recipe
	Recipe   string // of an exercise
	Score    string // the score as MusicXML; "" where there is none yet
	Rights   string // what allows the studio to hand this out: "traditional", "bought, 3 copies" …
	Added    time.Time
	Own      FingeringID // whose fingers stand in Score: those of one child; "" the studio's
}

// Collection is an ordered list of works that a student goes through.
type Collection struct {
	ID     CollectionID
	Studio StudioID
	Name   string
	Items  []CollectionItem
}

// CollectionItem is one step, with what must be known before it.
type CollectionItem struct {
	Work  WorkID
	After []WorkID // in the same collection
}
