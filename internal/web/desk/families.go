package desk

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/prose"
)

type familyList struct {
	Said     string
	Families []familyLine
}

type familyLine struct {
	ID       studio.FamilyID
	Name     string
	Students string
	Phones   string
}

func (p *pages) families(w http.ResponseWriter, r *http.Request) error { // GET /studio/families
	ctx, v := r.Context(), page.Viewer(r)
	all, err := p.desk.Families(ctx, v)
	if err != nil {
		return err
	}
	students, err := p.desk.Students(ctx, v)
	if err != nil {
		return err
	}
	devices, err := p.desk.Devices(ctx, v)
	if err != nil {
		return err
	}
	links, err := p.openLinks(r)
	if err != nil {
		return err
	}
	of, phones := map[studio.FamilyID][]string{}, map[studio.FamilyID]int{}
	for _, s := range students {
		of[s.Family] = append(of[s.Family], s.Name)
	}
	for _, d := range devices {
		if d.Revoked.IsZero() {
			phones[d.Family]++
		}
	}
	l := familyList{Said: doneWords[r.FormValue("done")]}
	for _, f := range all {
		one := familyLine{ID: f.ID, Name: f.Name, Students: prose.Among(of[f.ID]), Phones: "No phone connected, and no link is open"}
		if until := links[f.ID]; until != "" {
			one.Phones = "No phone connected yet; the link is open until " + until
		}
		if n := phones[f.ID]; n > 0 {
			one.Phones = prose.Capital(prose.Number(n, "phone or computer", "phones or computers")) + " connected"
		}
		l.Families = append(l.Families, one)
	}
	slices.SortStableFunc(l.Families, func(a, b familyLine) int { return strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)) })
	return p.Render(w, r, "families.html", page.View{Title: "Families", Here: "studio", Data: l})
}

// openLinks says of each family that has one until when a link of it is open.
func (p *pages) openLinks(r *http.Request) (map[studio.FamilyID]string, error) {
	all, err := p.desk.Invitations(r.Context(), page.Viewer(r))
	if err != nil {
		return nil, err
	}
	until := map[studio.FamilyID]string{}
	for _, i := range all { // in the order they were made: the newest stays
		until[i.Family] = i.Expires.In(p.f.Now().Location()).Format("Monday, 2 January")
	}
	return until, nil
}

// family is one household in words.
type family struct {
	ID       studio.FamilyID
	Name     string
	Since    string
	Adults   string
	Said     string
	Problem  string
	Students []studentLine
	Devices  []device
	Open     string // day until which a link is open; "" none is
	Consents []consent
	Erases   string
}

type studentLine struct {
	ID    studio.StudentID
	Name  string
	Media string
}

type device struct {
	ID                studio.DeviceID
	Name, Whose, Says string
	Good              bool
}

type consent struct{ What, Who, Days, By, When string }

var mediaWords = map[studio.MediaMode]string{
	studio.SoundOnly: "sound only",
	studio.HandsOnly: "video of the hands, without the face",
	studio.FullVideo: "video",
}

func (p *pages) family(w http.ResponseWriter, r *http.Request) error { // GET /studio/families/{family}
	f, err := p.household(r)
	if err != nil {
		return err
	}
	f.Said = doneWords[r.FormValue("done")]
	if r.FormValue("done") == "shown" {
		f.Problem = "A link is shown once. If it was not copied, make a new one below."
	}
	return p.showFamily(w, r, f)
}

func (p *pages) showFamily(w http.ResponseWriter, r *http.Request, f family) error {
	return p.Render(w, r, "family.html", page.View{Title: "Family " + f.Name, Here: "studio", Data: f})
}

func (p *pages) household(r *http.Request) (family, error) {
	ctx, v, now := r.Context(), page.Viewer(r), p.f.Now()
	id := studio.FamilyID(r.PathValue("family"))
	all, err := p.desk.Families(ctx, v)
	if err != nil {
		return family{}, err
	}
	at := slices.IndexFunc(all, func(f studio.Family) bool { return f.ID == id })
	if at < 0 {
		return family{}, notHere()
	}
	f := family{ID: id, Name: all[at].Name, Since: page.Day(all[at].Since, now)}
	people, err := p.desk.People(ctx, v)
	if err != nil {
		return family{}, err
	}
	names := map[studio.PersonID]string{}
	var adults, children []string
	for _, one := range people {
		names[one.ID] = one.Name
		if one.Family == id {
			adults = append(adults, one.Name)
		}
	}
	f.Adults = prose.Among(adults)
	students, err := p.desk.Students(ctx, v)
	if err != nil {
		return family{}, err
	}
	for _, s := range students {
		if s.Family == id {
			f.Students = append(f.Students, studentLine{s.ID, s.Name, "May send " + mediaWords[s.Media]})
			children = append(children, s.Name)
		}
	}
	f.Erases = prose.Among(append(children, adults...))
	devices, err := p.desk.Devices(ctx, v)
	if err != nil {
		return family{}, err
	}
	for _, d := range devices {
		if d.Family == id {
			f.Devices = append(f.Devices, deviceOf(d, names[d.Person], p))
		}
	}
	links, err := p.openLinks(r)
	if err != nil {
		return family{}, err
	}
	f.Open = links[id]
	consents, err := p.desk.Consents(ctx, v, id)
	if err != nil {
		return family{}, err
	}
	for _, c := range consents {
		f.Consents = append(f.Consents, consent{c.What, c.Who, page.Plural(c.KeepDays, "day"), names[c.Person], c.Given.In(now.Location()).Format("2 January 2006")})
	}
	return f, nil
}

func deviceOf(d studio.Device, whose string, p *pages) device {
	now := p.f.Now()
	one := device{ID: d.ID, Name: d.Name, Whose: whose, Good: d.Revoked.IsZero()}
	if one.Name == "" {
		one.Name = "A device"
	}
	one.Says = "Connected " + prose.On(page.Day(d.Bound, now))
	switch {
	case !d.Revoked.IsZero():
		one.Says += ", signed out " + prose.On(page.Day(d.Revoked, now))
	case !d.Seen.IsZero():
		one.Says += ", last used " + prose.On(page.Day(d.Seen, now))
	}
	return one
}

func notHere() error {
	return &studio.Problem{Kind: studio.NotFound, Say: "This is not here, or not for you to see."}
}

func (p *pages) addStudent(w http.ResponseWriter, r *http.Request) error { // POST /studio/families/{family}/students
	id := studio.FamilyID(r.PathValue("family"))
	_, err := p.desk.AddStudent(r.Context(), page.Viewer(r), id, studio.NewStudent{Name: r.PostFormValue("student"), Media: studio.MediaMode(r.PostFormValue("media"))})
	if say, ok := mendable(err); ok {
		f, err := p.household(r)
		if err != nil {
			return err
		}
		f.Problem = say
		return p.showFamily(page.WithStatus(w, http.StatusUnprocessableEntity), r, f)
	}
	if err != nil {
		return err
	}
	return p.back(w, r, familyAt(id)+"?done=added")
}

func familyAt(id studio.FamilyID) string { return "/studio/families/" + string(id) }

func (p *pages) revoke(w http.ResponseWriter, r *http.Request) error { // POST /studio/families/{family}/devices/{device}/revoke
	ctx, v, id := r.Context(), page.Viewer(r), studio.FamilyID(r.PathValue("family"))
	devices, err := p.desk.Devices(ctx, v)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(devices, func(d studio.Device) bool { return string(d.ID) == r.PathValue("device") && d.Family == id })
	if at < 0 {
		return notHere()
	}
	if devices[at].Revoked.IsZero() { // pressed twice: it is out already
		if err := p.desk.Revoke(ctx, v, devices[at].ID); err != nil {
			return err
		}
	}
	return p.back(w, r, familyAt(id)+"?done=out#phones")
}

func (p *pages) exportFamily(w http.ResponseWriter, r *http.Request) error { // POST /studio/families/{family}/export
	id := studio.FamilyID(r.PathValue("family"))
	d := &download{w: w, kind: "application/zip", name: "family-" + p.f.Now().Format(isoDay) + ".zip"}
	return d.done(p.desk.ExportFamily(r.Context(), page.Viewer(r), id, d))
}

func (p *pages) eraseFamily(w http.ResponseWriter, r *http.Request) error { // POST /studio/families/{family}/erase
	f, err := p.household(r)
	if err != nil {
		return err
	}
	if typed := strings.Join(strings.Fields(r.PostFormValue("typed")), " "); !strings.EqualFold(typed, f.Name) {
		f.Problem = fmt.Sprintf("Nothing was erased: what you typed is not the family’s name. To erase, type %s.", f.Name)
		return p.showFamily(page.WithStatus(w, http.StatusUnprocessableEntity), r, f)
	}
	receipt, err := p.desk.EraseFamily(r.Context(), page.Viewer(r), f.ID)
	if err != nil {
		return err
	}
	return p.back(w, r, "/studio/receipts?new="+string(receipt.ID))
}
