package door

import (
	"net/http"
	"slices"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// ownPage is the teacher's own door: passkeys, password, recovery codes, devices.
type ownPage struct {
	Problem  string
	Done     string
	Here     string // what this device is called if nobody says otherwise
	Keyless  bool   // no passkey can belong to this address
	Ways     studio.WaysIn
	Passkeys []studio.Passkey
	Devices  []ownDevice
}

type ownDevice struct {
	studio.Device
	This bool
}

// doneWords say what has just been done, by its name in the address.
var doneWords = map[string]string{
	"recovered": "You came in with a recovery code, and that code is used up. Make a new passkey or set a new password now.",
	"password":  "The new password is set. The old one opens nothing any more.",
	"forgotten": "The passkey is removed. It opens nothing any more.",
	"out":       "That device is signed out.",
	"named":     "That device has a new name.",
}

// own is GET /studio/door.
func (d *door) own(w http.ResponseWriter, r *http.Request) error {
	return d.showOwn(w, r, ownPage{Done: doneWords[r.URL.Query().Get("done")]})
}

func (d *door) showOwn(w http.ResponseWriter, r *http.Request, o ownPage) error {
	v := page.Viewer(r)
	o.Here, o.Keyless = deviceName(r), d.keyless(r)
	var err error
	if o.Ways, err = d.f.Desk().WaysIn(r.Context(), v); err != nil {
		return err
	}
	if o.Passkeys, err = d.f.Desk().Passkeys(r.Context(), v); err != nil {
		return err
	}
	all, err := d.f.Desk().Devices(r.Context(), v)
	if err != nil {
		return err
	}
	for _, dev := range slices.Backward(all) {
		if dev.Person == v.Person && dev.Revoked.IsZero() {
			o.Devices = append(o.Devices, ownDevice{dev, dev.ID == v.Device})
		}
	}
	return d.p.Render(w, r, "own.html", page.View{Title: "Your door", Here: "studio", Data: o})
}

// changePassword is POST /studio/door/password.
func (d *door) changePassword(w http.ResponseWriter, r *http.Request) error {
	err := d.f.Desk().ChangePassword(r.Context(), page.Viewer(r), r.PostFormValue("password"))
	if say, ok := refused(err); ok {
		return d.showOwn(page.WithStatus(w, http.StatusUnprocessableEntity), r, ownPage{Problem: say})
	}
	return d.back(w, r, err, "password")
}

// newCodes is POST /studio/door/codes: the old codes die, the new ones are shown once.
func (d *door) newCodes(w http.ResponseWriter, r *http.Request) error {
	codes, err := d.f.Desk().NewRecoveryCodes(r.Context(), page.Viewer(r))
	if err != nil {
		return err
	}
	return d.p.Render(w, r, "codes.html", page.View{Title: "Recovery codes", Here: "studio", Data: codesPage{Codes: codes}})
}

// forgetPasskey is POST /studio/door/passkeys/{passkey}/forget.
func (d *door) forgetPasskey(w http.ResponseWriter, r *http.Request) error {
	err := d.f.Desk().ForgetPasskey(r.Context(), page.Viewer(r), studio.PasskeyID(r.PathValue("passkey")))
	return d.back(w, r, err, "forgotten")
}

// signOutOwn is POST /studio/door/devices/{device}/sign-out.
func (d *door) signOutOwn(w http.ResponseWriter, r *http.Request) error {
	id := studio.DeviceID(r.PathValue("device"))
	if id == page.Viewer(r).Device {
		return d.signOut(w, r)
	}
	return d.back(w, r, d.f.Desk().Revoke(r.Context(), page.Viewer(r), id), "out")
}

// nameOwn is POST /studio/door/devices/{device}/name.
func (d *door) nameOwn(w http.ResponseWriter, r *http.Request) error {
	err := d.f.Desk().NameDevice(r.Context(), page.Viewer(r), studio.DeviceID(r.PathValue("device")), r.PostFormValue("name"))
	if say, ok := refused(err); ok {
		return d.showOwn(page.WithStatus(w, http.StatusUnprocessableEntity), r, ownPage{Problem: say})
	}
	return d.back(w, r, err, "named")
}

func (d *door) back(w http.ResponseWriter, r *http.Request, err error, done string) error {
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/studio/door?done="+done, http.StatusSeeOther)
	return nil
}
