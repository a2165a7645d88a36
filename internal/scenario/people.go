package scenario

import "antiphon/internal/studio"

// The studio and its teacher.
const (
	StudioName  = "Studio Under the Lime Tree"
	TeacherName = "Marit Sandoval"
)

// Household is one invented family.
type Household struct {
	Name     string // of the family
	Coach    string // the adult who practises with the children
	Phone    string // how that adult's device is called
	Learners []Learner
}

// Learner is one invented child, with how it plays.
type Learner struct {
	Name   string
	Media  studio.MediaMode
	Since  int        // weeks ago; at most Weeks
	Course []string   // works in order, by name
	Begins int        // index in Course of the first one in this story
	Drill  string     // exercise that goes along
	Pace   int        // weeks for one work
	Silent []int      // weeks without a take
	Tempo  [2]float64 // share of the asked tempo when a work is new, and when it is known
	Slips  float64    // wrong, missed and added notes while a work is new, per note
	Wobble float64    // of the tempo
	Habit  habit
	Flat   map[string]float64 // strings out of tune, in cents
	Record device
}

// habit is what a child does again and again, until it is mended.
type habit string

const (
	rushes   habit = "rushes"   // gets faster through the piece
	stops    habit = "stops"    // stops before a change of position or chord
	restarts habit = "restarts" // goes back to the beginning of the phrase
	uneven   habit = "uneven"   // long and short where even is written
	soft     habit = "soft"     // too softly for the phone
	steady   habit = "steady"   // nothing in particular
)

// device is what the recording is made with.
type device string

const (
	phoneOnTable device = "phone on the table"
	oldPhone     device = "an old phone"
	tablet       device = "a tablet"
	laptop       device = "a laptop"
)

var folk = []string{"hot-cross-buns", "frere-jacques", "little-lamb", "au-clair", "old-farmer", "canon", "good-king", "ode-to-joy",
	"row-your-boat", "london-bridge", "three-blind-mice", "pont-d-avignon", "greensleeves", "new-britain", "scarborough-fair"}

var parlour = []string{"brook", "lane", "duo", "wheel", "minuet", "pinch", "greensleeves", "jig"}

// Households are the twelve families.
func Households() []Household {
	return []Household{
		{"Varga", "Ilona Varga", "Ilona’s phone", []Learner{
			{Name: "Tilda", Media: studio.FullVideo, Since: 14, Course: folk, Begins: 0, Drill: "first-five-notes", Pace: 4, Tempo: [2]float64{.72, .96}, Slips: .05, Wobble: .03, Habit: restarts, Flat: map[string]float64{"3": -16}, Record: phoneOnTable},
			{Name: "Bence", Media: studio.SoundOnly, Since: 9, Course: folk, Begins: 0, Drill: "open-string-walk", Pace: 4, Silent: []int{6}, Tempo: [2]float64{.7, .9}, Slips: .06, Wobble: .05, Habit: stops, Record: phoneOnTable},
		}},
		{"Okafor", "Ngozi Okafor", "Ngozi’s phone", []Learner{
			{Name: "Ada", Media: studio.HandsOnly, Since: 15, Course: folk, Begins: 5, Drill: "one-octave-in-c", Pace: 4, Tempo: [2]float64{.85, 1.08}, Slips: .025, Wobble: .02, Habit: rushes, Record: tablet},
		}},
		{"Lindqvist", "Per Lindqvist", "kitchen tablet", []Learner{
			{Name: "Nils", Media: studio.SoundOnly, Since: 16, Course: folk, Begins: 3, Drill: "four-fingers-climb", Pace: 5, Silent: []int{3, 9}, Tempo: [2]float64{.75, .95}, Slips: .04, Wobble: .03, Habit: uneven, Record: oldPhone},
			{Name: "Runa", Media: studio.SoundOnly, Since: 12, Course: folk, Begins: 0, Drill: "open-string-walk", Pace: 4, Tempo: [2]float64{.7, .92}, Slips: .05, Wobble: .04, Habit: soft, Record: oldPhone},
		}},
		{"Haddad", "Samira Haddad", "Samira’s phone", []Learner{
			{Name: "Yusuf", Media: studio.SoundOnly, Since: 16, Course: parlour, Begins: 0, Drill: "broken-chords-pima", Pace: 6, Silent: []int{5}, Tempo: [2]float64{.8, 1}, Slips: .025, Wobble: .02, Habit: uneven, Record: laptop},
		}},
		{"Moreau", "Claire Moreau", "Claire’s phone", []Learner{
			{Name: "Lison", Media: studio.FullVideo, Since: 16, Course: folk, Begins: 2, Drill: "first-five-notes", Pace: 5, Silent: []int{11, 12}, Tempo: [2]float64{.7, .94}, Slips: .045, Wobble: .03, Habit: stops, Flat: map[string]float64{"5": 12}, Record: phoneOnTable},
		}},
		{"Brandt", "Jonas Brandt", "Jonas’ phone", []Learner{
			{Name: "Emil", Media: studio.SoundOnly, Since: 16, Course: folk, Begins: 4, Drill: "one-octave-in-c", Pace: 5, Silent: []int{0, 1, 2, 3}, Tempo: [2]float64{.78, .95}, Slips: .04, Wobble: .035, Habit: rushes, Record: phoneOnTable},
		}},
		{"Tanaka", "Emi Tanaka", "Emi’s phone", []Learner{
			{Name: "Hana", Media: studio.SoundOnly, Since: 16, Course: parlour, Begins: 2, Drill: "thumb-holds-the-bass", Pace: 7, Silent: []int{7}, Tempo: [2]float64{.82, 1}, Slips: .02, Wobble: .018, Habit: steady, Record: tablet},
			{Name: "Kenji", Media: studio.SoundOnly, Since: 7, Course: folk, Begins: 0, Drill: "open-string-walk", Pace: 4, Tempo: [2]float64{.68, .88}, Slips: .06, Wobble: .05, Habit: stops, Record: tablet},
		}},
		{"Rossi", "Davide Rossi", "Davide’s phone", []Learner{
			{Name: "Mira", Media: studio.SoundOnly, Since: 16, Course: folk, Begins: 6, Drill: "long-and-short-in-e-minor", Pace: 5, Silent: []int{4, 8}, Tempo: [2]float64{.8, 1}, Slips: .03, Wobble: .025, Habit: rushes, Record: oldPhone},
		}},
		{"Novak", "Petra Novak", "Petra’s phone", []Learner{
			{Name: "Jakub", Media: studio.HandsOnly, Since: 14, Course: folk, Begins: 1, Drill: "first-five-notes", Pace: 5, Silent: []int{6, 10}, Tempo: [2]float64{.72, .9}, Slips: .05, Wobble: .04, Habit: restarts, Record: phoneOnTable},
		}},
		{"Adeyemi", "Tobi Adeyemi", "Tobi’s phone", []Learner{
			{Name: "Folu", Media: studio.SoundOnly, Since: 16, Course: folk, Begins: 3, Drill: "four-on-one-string", Pace: 5, Silent: []int{0, 1, 2}, Tempo: [2]float64{.75, .95}, Slips: .04, Wobble: .03, Habit: uneven, Record: laptop},
		}},
		{"Castillo", "Lucía Castillo", "Lucía’s phone", []Learner{
			{Name: "Inés", Media: studio.SoundOnly, Since: 16, Course: folk, Begins: 7, Drill: "two-octaves-in-g", Pace: 5, Silent: []int{9}, Tempo: [2]float64{.85, 1.02}, Slips: .02, Wobble: .02, Habit: steady, Record: phoneOnTable},
			{Name: "Mateo", Media: studio.SoundOnly, Since: 10, Course: folk, Begins: 0, Drill: "open-string-walk", Pace: 5, Silent: []int{0, 4}, Tempo: [2]float64{.7, .9}, Slips: .055, Wobble: .045, Habit: stops, Record: phoneOnTable},
		}},
		{"Whitlock", "Rose Whitlock", "Rose’s phone", []Learner{
			{Name: "Oscar", Media: studio.SoundOnly, Since: 6, Course: folk, Begins: 0, Drill: "open-string-walk", Pace: 4, Silent: []int{2}, Tempo: [2]float64{.66, .86}, Slips: .07, Wobble: .05, Habit: stops, Record: oldPhone},
		}},
	}
}
