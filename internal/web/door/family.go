package door

import (
	"net/http"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
	"antiphon/internal/web/tongue"
)

// language is POST /language: this browser's pages speak another language from now on, and where it is a
// family's, so does what is written to the family.
func (d *door) language(w http.ResponseWriter, r *http.Request) error {
	code := tongue.Of(r.PostFormValue("language")).Code
	if v := page.Viewer(r); v.Role == studio.Coach {
		if err := d.f.Desk().ChooseLanguage(r.Context(), v, code); err != nil {
			return err
		}
	}
	tongue.Choose(w, code, d.f.Secure())
	http.Redirect(w, r, local(r.PostFormValue("to"), "/week"), http.StatusSeeOther)
	return nil
}

// devicesPage lists the phones of a family.
type devicesPage struct {
	*tongue.Tongue
	Here    string // path of the page, for the family's line of pages
	Devices []familyDevice
}

type familyDevice struct {
	studio.Device
	Whose string // the adult's name
	This  bool
	Bound string // in words
	Seen  string // in words; "" never
}

// devices is GET /devices.
func (d *door) devices(w http.ResponseWriter, r *http.Request) error {
	t, err := d.f.Tongue(r)
	if err != nil {
		return err
	}
	v := page.Viewer(r)
	all, err := d.f.Desk().Devices(r.Context(), v)
	if err != nil {
		return err
	}
	people, err := d.f.Desk().People(r.Context(), v)
	if err != nil {
		return err
	}
	name := map[studio.PersonID]string{}
	for _, p := range people {
		name[p.ID] = p.Name
	}
	p := devicesPage{Tongue: t, Here: "/devices"}
	for _, dev := range all {
		if !dev.Revoked.IsZero() {
			continue
		}
		x := familyDevice{Device: dev, Whose: name[dev.Person], This: dev.ID == v.Device}
		if x.Bound, err = t.Day(dev.Bound, d.f.Now()); err != nil {
			return err
		}
		if !dev.Seen.IsZero() {
			if x.Seen, err = t.Day(dev.Seen, d.f.Now()); err != nil {
				return err
			}
		}
		p.Devices = append(p.Devices, x)
	}
	return d.show(w, r, "devices.html", "devices.title", p, t)
}

// signOutDevice is POST /devices/{device}/sign-out: any phone of the family, this one too.
func (d *door) signOutDevice(w http.ResponseWriter, r *http.Request) error {
	id := studio.DeviceID(r.PathValue("device"))
	if id == page.Viewer(r).Device {
		return d.signOut(w, r)
	}
	if err := d.f.Desk().Revoke(r.Context(), page.Viewer(r), id); err != nil {
		return err
	}
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
	return nil
}

// nameDevice is POST /devices/{device}/name.
func (d *door) nameDevice(w http.ResponseWriter, r *http.Request) error {
	err := d.f.Desk().NameDevice(r.Context(), page.Viewer(r), studio.DeviceID(r.PathValue("device")), r.PostFormValue("name"))
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
	return nil
}

// showLeft tells a family that this phone is out.
func (d *door) showLeft(w http.ResponseWriter, r *http.Request) error {
	t, err := d.f.Tongue(r)
	if err != nil {
		return err
	}
	return d.show(w, r, "left.html", "left.title", devicesPage{Tongue: t}, t)
}

func (d *door) show(w http.ResponseWriter, r *http.Request, file, title string, data any, t *tongue.Tongue) error {
	say, err := t.Say(title)
	if err != nil {
		return err
	}
	return d.p.Render(w, r, file, page.View{Title: say, Lang: t.Code, Here: "week", Data: data})
}
