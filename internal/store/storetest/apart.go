package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"antiphon/internal/studio"
)

var errBack = errors.New("take it back")

// noFamilySeesAnother calls every method of studio.Records, found by reflection so that a new one is
// not forgotten, in one family's scope with another's ids and records. Whatever it answers may not
// hold anything of the other family's, and may not have changed anything there.
func noFamilySeesAnother(t *testing.T, h *House) {
	f, g := h.Found(t, "Lindenhof"), h.Found(t, "Seeblick")
	one := h.own(t, f, h.Live(t, f, "Abelone", "Miranda"), "Miranda")
	two := h.own(t, f, h.Live(t, f, "Bartholo", "Jonathan"), "Jonathan")
	far := h.own(t, g, h.Live(t, g, "Corneliu", "Theodora"), "Theodora")

	for _, c := range []struct {
		name     string
		in       studio.Scope
		me, them own
		whole    bool
	}{
		{"a family and its neighbour", studio.OneFamily(one.studio, one.family), one, two, false},
		{"a family and another studio's", studio.OneFamily(one.studio, one.family), one, far, false},
		{"a studio and another's family", studio.WholeStudio(one.studio), one, far, true},
		{"nobody", studio.Scope{}, own{studio: "0", family: "0", child: "Nobody"}, two, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			records := reflect.TypeFor[studio.Records]()
			for i := range records.NumMethod() {
				m := records.Method(i)
				if slices.Contains(nameless, m.Name) {
					continue
				}
				if !c.whole && c.me.child != "Nobody" && m.Type.NumIn() > 1 && m.Type.In(1) == reflect.TypeFor[studio.StudioID]() {
					continue // the studio's own question; a family has no way to it
				}
				for _, fresh := range []bool{false, true} {
					h.try(t, m.Name, c.in, c.me, c.them, fresh)
				}
			}
		})
	}
	t.Run("not for nothing", func(t *testing.T) { // with its own ids, every question has an answer
		records := reflect.TypeFor[studio.Records]()
		for i := range records.NumMethod() {
			m := records.Method(i)
			in := m.Type.NumIn() > 1 && m.Type.In(1) == reflect.TypeFor[studio.Scope]()
			if !in || m.Type.NumOut() != 2 {
				continue
			}
			err := h.Store.Within(t.Context(), func(tx studio.Records) error {
				out := reflect.ValueOf(tx).MethodByName(m.Name).Call(arguments(t, m.Name, m.Type, studio.OneFamily(one.studio, one.family), one, one, false))
				if got := text(t, out[0].Interface()); got == "null" || got == "false" || !out[1].IsNil() {
					t.Errorf("%s has no answer for its own family: %s, %v", m.Name, got, out[1])
				}
				return errBack
			})
			if !errors.Is(err, errBack) {
				t.Error(m.Name, err)
			}
		}
	})
}

// nameless methods are asked with a secret, or before anybody is known.
var nameless = []string{"TakeEmailSecret", "ForgetEmail", "OpenInvitation", "RedeemInvitation", "DeviceByHash", "PutSetUp", "TakeSetUp", "TakeRecoveryCode", "FirstStudio"}

// try calls one method within me's scope with what belongs to them, and takes it back.
func (h *House) try(t *testing.T, method string, in studio.Scope, me, them own, fresh bool) {
	t.Helper()
	var before, after []string
	isTheirs := func(s string) bool {
		return strings.Contains(s, string(them.family)) || strings.Contains(s, them.child) ||
			me.studio != them.studio && strings.Contains(s, string(them.studio))
	}
	theirs := func(tx studio.Records) []string {
		return slices.DeleteFunc(Dump(t, tx), func(row string) bool { return !isTheirs(row) })
	}
	err := h.Store.Within(t.Context(), func(tx studio.Records) error {
		before = theirs(tx)
		m := reflect.ValueOf(tx).MethodByName(method)
		out := m.Call(arguments(t, method, m.Type(), in, me, them, fresh))
		if err, _ := out[len(out)-1].Interface().(error); err != nil {
			return err
		}
		for _, o := range out[:len(out)-1] {
			got := text(t, o.Interface())
			if isTheirs(got) {
				t.Errorf("%s shows another family's: %s", method, got)
			}
		}
		after = theirs(tx)
		if !reflect.DeepEqual(before, after) {
			t.Errorf("%s changed another family's rows:\n%s\nto\n%s", method, strings.Join(before, "\n"), strings.Join(after, "\n"))
		}
		return errBack
	})
	if len(before) == 0 {
		t.Fatal("the other family has no rows: this shows nothing")
	}
	if !errors.Is(err, errBack) && !errors.Is(err, studio.ErrNotFound) && !errors.Is(err, studio.ErrConflict) {
		t.Errorf("%s: %v", method, err)
	}
}

// own is one record of each kind of one family, and its ids, by their types.
type own struct {
	studio studio.StudioID
	family studio.FamilyID
	child  string
	model  studio.TakeID // the teacher's, which the family was asked to hear
	things map[reflect.Type]any
}

func (h *House) own(t *testing.T, f Founded, v studio.Viewer, child string) own {
	t.Helper()
	ctx, in := t.Context(), studio.OneFamily(v.Studio, v.Family)
	o := own{studio: v.Studio, family: v.Family, child: child, things: map[reflect.Type]any{}}
	keep := func(x any) {
		o.things[reflect.TypeOf(x)] = x
		if id := reflect.ValueOf(x).FieldByName("ID"); id.IsValid() {
			o.things[id.Type()] = id.Interface()
		}
	}
	keepFirst := func(list any, err error) {
		t.Helper()
		must(t, err)
		l := reflect.ValueOf(list)
		if l.Len() == 0 {
			t.Fatalf("there is nothing in a %T", list)
		}
		keep(l.Index(0).Interface())
	}
	st, err := h.Store.Studio(ctx, v.Studio)
	must(t, err)
	keep(st)
	keepFirst(h.Store.Families(ctx, in))
	keepFirst(h.Store.People(ctx, in))
	keepFirst(h.Store.Students(ctx, in))
	keepFirst(h.Store.Consents(ctx, in))
	keepFirst(h.Store.Devices(ctx, in))
	keepFirst(h.Store.Lessons(ctx, in, studio.LessonQuery{Drafts: true}))
	keepFirst(h.Store.Hearings(ctx, in, ""))
	keepFirst(h.Store.Corrections(ctx, in, ""))
	keepFirst(h.Store.Remarks(ctx, in, ""))
	keepFirst(h.Store.AccessLog(ctx, in, "", 0))
	keepFirst(h.Store.Works(ctx, v.Studio))
	take, err := h.Store.Take(ctx, in, o.things[reflect.TypeFor[studio.Remark]()].(studio.Remark).Take)
	must(t, err)
	keep(take)
	keepFirst(h.Store.Media(ctx, in, take.ID))
	keep(o.things[reflect.TypeFor[studio.Lesson]()].(studio.Lesson).Assignments[0])
	c, err := h.Desk.Shelve(ctx, f.Teacher, studio.Collection{Name: "Of " + f.Studio.Name})
	must(t, err)
	keep(c)
	keep(studio.Invitation{ID: "0123456789abcdefghjkmnpqrs", Studio: v.Studio, Family: v.Family})
	p, err := h.Desk.AddPassage(ctx, f.Teacher, studio.Passage{Work: o.things[reflect.TypeFor[studio.WorkID]()].(studio.WorkID), Name: "Of " + f.Studio.Name})
	must(t, err)
	keep(p)
	k, err := h.Desk.AddPasskey(ctx, f.Teacher, "Of "+f.Studio.Name, []byte(`{"of":"`+f.Studio.ID+`"}`))
	must(t, err)
	keep(k)
	u, err := h.Desk.Drop(ctx, f.Teacher, "of "+f.Studio.Name+".mp4", "video/mp4", strings.NewReader("of "+f.Studio.Name+child))
	must(t, err)
	keep(u)
	keepFirst(h.Store.Prints(ctx, in, "", time.Time{}))
	keep(studio.Looks{Last: h.Now, Since: h.Now})
	keep(studio.TakeQuery{Unanswered: true})
	keepFirst(h.Store.Answers(ctx, in, ""))
	keepFirst(h.Store.Films(ctx, in))
	model, err := h.Desk.ReceiveModel(ctx, f.Teacher, o.things[reflect.TypeFor[studio.WorkID]()].(studio.WorkID), "audio/mp4", strings.NewReader("model of "+f.Studio.Name+child))
	must(t, err)
	l, err := h.Desk.SaveDraft(ctx, f.Teacher, studio.Lesson{Student: take.Student, Date: "2026-03-03", Assignments: []studio.Assignment{{Ask: studio.AskListen, Model: model.ID}}})
	must(t, err)
	must(t, h.Store.SendLesson(ctx, in, l.ID, l.Version, h.Now)) // alone, so that what waits for an answer waits on
	o.model = model.ID
	keepFirst(h.Store.Taps(ctx, in, studio.TapQuery{}))
	keep(studio.TapQuery{})
	keepFirst(h.Store.StudentPlans(ctx, in))
	keepFirst(h.Store.Forecasts(ctx, in, ""))
	keep(studio.StudioPlan{Studio: v.Studio})
	keep(studio.Demand{LastBar: "8"})
	keep(studio.HeardBars{Bar: []string{"1"}, Written: []int{4}, Right: []int{4}})
	keep(studio.WorkSays{Joy: true})
	keepFirst(h.Store.PushAddresses(ctx, in, ""))
	keepFirst(h.Store.Notices(ctx, in))
	keepFirst(h.Store.Fingerings(ctx, in, "", ""))
	was := studio.EarlierScore{ID: studio.EarlierID("e" + child[1:]), Studio: v.Studio, Work: o.things[reflect.TypeFor[studio.WorkID]()].(studio.WorkID), Score: "<score/>", Ended: h.Now}
	must(t, h.Store.AddEarlier(ctx, was))
	keep(was)
	keepFirst(h.Store.Nudges(ctx, in, ""))
	keepFirst(h.Store.Letters(ctx, in, ""))
	phrase, err := h.Desk.KeepPhrase(ctx, f.Teacher, studio.Phrase{Text: "Of " + f.Studio.Name + "."})
	must(t, err)
	keep(phrase)
	keep(studio.LessonQuery{Drafts: true})
	keep(studio.Receipt{ID: "0123456789abcdefghjkmnpqrs", Studio: v.Studio})
	keep(studio.Doomed{Studio: v.Studio, Family: v.Family, Media: o.things[reflect.TypeFor[studio.MediaID]()].(studio.MediaID)})
	return o
}

// arguments for a method: the scope and the studio are me's, every id is them's, and a record is
// them's put under my family's name, under its own id or a fresh one.
func arguments(t *testing.T, method string, m reflect.Type, in studio.Scope, me, them own, fresh bool) []reflect.Value {
	t.Helper()
	var args []reflect.Value
	for i := range m.NumIn() {
		at := m.In(i)
		if m.IsVariadic() && i == m.NumIn()-1 {
			args = append(args, reflect.ValueOf(studio.Ready), reflect.ValueOf(studio.Waiting))
			continue
		}
		var v any
		switch at {
		case reflect.TypeFor[context.Context]():
			v = t.Context()
		case reflect.TypeFor[studio.Scope]():
			v = in
		case reflect.TypeFor[studio.StudioID]():
			v = me.studio
		case reflect.TypeFor[studio.TakeState]():
			v = studio.Ready
		case reflect.TypeFor[time.Time]():
			v = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
			if method == "Logged" || method == "Prints" || method == "TakesChanged" || method == "Load" || method == "History" { // since then
				v = time.Time{}
			}
		case reflect.TypeFor[bool]():
			v = true
		case reflect.TypeFor[int]():
			v = 1
		case reflect.TypeFor[[]string]():
			v = []string{"a hash"}
		case reflect.TypeFor[json.RawMessage]():
			v = json.RawMessage(`{}`)
		case reflect.TypeFor[string]():
			if method == "Tap" || method == "AnswerTap" || method == "RemoveTap" {
				v = them.things[reflect.TypeFor[studio.Tap]()].(studio.Tap).ID
				break
			}
			if method == "RemovePhrase" {
				v = them.things[reflect.TypeFor[studio.Phrase]()].(studio.Phrase).ID
				break
			}
			if method == "DropNotices" {
				v = them.things[reflect.TypeFor[studio.Notice]()].(studio.Notice).About
				break
			}
			if method == "Said" {
				v = them.things[reflect.TypeFor[studio.Remark]()].(studio.Remark).Remedy
				break
			}
			v = them.things[reflect.TypeFor[studio.Media]()].(studio.Media).SHA256
		case reflect.TypeFor[studio.TakeID]():
			if v = them.things[at]; method == "ModelAsked" {
				v = them.model
			}
		default:
			thing, ok := them.things[at]
			if !ok {
				t.Fatalf("%s takes a %s, and nobody has one", method, at)
			}
			v = thing
			if at.Kind() == reflect.Struct && me.family != them.family {
				v = disguised(t, thing, me, them, fresh)
			}
		}
		args = append(args, reflect.ValueOf(v))
	}
	return args
}

// disguised is a record of them's in my family's name and words.
func disguised(t *testing.T, thing any, me, them own, fresh bool) any {
	t.Helper()
	p := reflect.New(reflect.TypeOf(thing))
	must(t, json.Unmarshal([]byte(strings.ReplaceAll(text(t, thing), them.child, me.child)), p.Interface()))
	for name, v := range map[string]string{"Studio": string(me.studio), "Family": string(me.family), "ID": "zzzzzzzzzzzzzzzzzzzzzzzzzz", "Hash": "fresh"} {
		f := p.Elem().FieldByName(name)
		if f.IsValid() && (name != "ID" || fresh) {
			f.SetString(v)
		}
	}
	return p.Elem().Interface()
}

func text(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	must(t, err)
	return string(b)
}
