package door

import (
	"bytes"
	"encoding/json"
	"errors"
	"net"
	"net/http"
	"net/url"
	"slices"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"

	"antiphon/internal/studio"
	"antiphon/internal/web/page"
)

// errNoPasskeyHere is an address that no browser binds a passkey to (Web Authentication, W3C: the
// relying party is a domain, never a number).
var errNoPasskeyHere = &studio.Problem{Kind: studio.Invalid,
	Say: "A passkey belongs to a name, and this address is a number. Open the studio at its name, or use a password."}

// noEntry is the one answer to everything that does not open the door.
func noEntry(cause error) error {
	return &studio.Problem{Kind: studio.NotAllowed, Say: "That did not open the door. Try again, or come in another way.", Err: cause}
}

// keyHolder is the teacher as the ceremony sees one.
type keyHolder struct {
	person studio.Person
	keys   []webauthn.Credential
}

func (k keyHolder) WebAuthnID() []byte                         { return []byte(k.person.ID) }
func (k keyHolder) WebAuthnName() string                       { return k.person.Name }
func (k keyHolder) WebAuthnDisplayName() string                { return k.person.Name }
func (k keyHolder) WebAuthnCredentials() []webauthn.Credential { return k.keys }

func holder(p studio.Person, keys []studio.Passkey) (keyHolder, error) {
	k := keyHolder{person: p}
	for _, key := range keys {
		var c webauthn.Credential
		if err := json.Unmarshal(key.Credential, &c); err != nil {
			return keyHolder{}, err
		}
		k.keys = append(k.keys, c)
	}
	return k, nil
}

// relying is this site as passkeys know it.
func (d *door) relying(r *http.Request) (*webauthn.WebAuthn, error) {
	address := d.o.Address
	if address == "" {
		address = "http://" + r.Host
		if d.f.Secure() {
			address = "https://" + r.Host
		}
	}
	u, err := url.Parse(address)
	if err != nil || u.Hostname() == "" || net.ParseIP(u.Hostname()) != nil {
		return nil, errNoPasskeyHere
	}
	return webauthn.New(&webauthn.Config{
		RPID: u.Hostname(), RPDisplayName: "Antiphon", RPOrigins: []string{u.Scheme + "://" + u.Host},
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			ResidentKey: protocol.ResidentKeyRequirementRequired, UserVerification: protocol.VerificationPreferred,
		},
	})
}

// keyless tells whether no passkey can belong to this address.
func (d *door) keyless(r *http.Request) bool {
	_, err := d.relying(r)
	return err != nil
}

// askPasskey begins signing in: POST /sign-in/passkey. The browser shows which passkeys it has.
func (d *door) askPasskey(w http.ResponseWriter, r *http.Request) error {
	rp, err := d.relying(r)
	if err != nil {
		return err
	}
	ask, data, err := rp.BeginDiscoverableLogin(webauthn.WithUserVerification(protocol.VerificationPreferred))
	if err != nil {
		return err
	}
	d.bindCeremony(w, d.going.begin(*data, ""))
	return page.JSON(w, ask)
}

// answered is what the page sends when the browser has answered.
type answered struct {
	Name       string          `json:"name"` // of a new passkey
	To         string          `json:"to"`   // where to go when signed in
	Credential json.RawMessage `json:"credential"`
}

// enterByPasskey ends it: POST /sign-in/passkey/answer.
func (d *door) enterByPasskey(w http.ResponseWriter, r *http.Request) error {
	var a answered
	if err := page.ReadJSON(w, r, &a); err != nil {
		return err
	}
	data, ok := d.endCeremony(w, r, "")
	if !ok {
		return noEntry(errors.New("no such ceremony"))
	}
	rp, err := d.relying(r)
	if err != nil {
		return err
	}
	person, keys, err := d.f.Desk().TeacherPasskeys(r.Context())
	if err != nil {
		return err
	}
	who, err := holder(person, keys)
	if err != nil {
		return err
	}
	answer, err := protocol.ParseCredentialRequestResponseBytes(a.Credential)
	if err != nil {
		return noEntry(err)
	}
	// There is one teacher; that the answer is by the teacher's own handle and key is checked in there.
	_, key, err := rp.ValidatePasskeyLogin(func(_, _ []byte) (webauthn.User, error) { return who, nil }, data, answer)
	if err != nil {
		return noEntry(err)
	}
	for i, k := range who.keys {
		if !bytes.Equal(k.ID, key.ID) {
			continue
		}
		if key.Authenticator.CloneWarning {
			// Its counter did not go up: two devices may hold one key. It opens nothing; the other ways in do.
			d.f.Log().Warn("a passkey may have been copied", "passkey", keys[i].Name)
			return noEntry(errors.New("the passkey's counter went back"))
		}
		renewed, err := json.Marshal(key)
		if err != nil {
			return err
		}
		_, secret, err := d.f.Desk().EnterByPasskey(r.Context(), keys[i].ID, renewed, deviceName(r))
		if err != nil {
			return err
		}
		d.f.Enter(w, secret)
		return page.JSON(w, map[string]string{"to": local(a.To, "/desk")})
	}
	return noEntry(errors.New("the passkey is not here"))
}

// offerPasskey begins a new passkey: POST /studio/door/passkeys.
func (d *door) offerPasskey(w http.ResponseWriter, r *http.Request) error {
	rp, err := d.relying(r)
	if err != nil {
		return err
	}
	who, err := d.viewer(r)
	if err != nil {
		return err
	}
	offer, data, err := rp.BeginRegistration(who, webauthn.WithResidentKeyRequirement(protocol.ResidentKeyRequirementRequired),
		webauthn.WithExclusions(webauthn.Credentials(who.keys).CredentialDescriptors()))
	if err != nil {
		return err
	}
	d.bindCeremony(w, d.going.begin(*data, who.person.ID))
	return page.JSON(w, offer)
}

// addPasskey ends it: POST /studio/door/passkeys/answer.
func (d *door) addPasskey(w http.ResponseWriter, r *http.Request) error {
	var a answered
	if err := page.ReadJSON(w, r, &a); err != nil {
		return err
	}
	who, err := d.viewer(r)
	if err != nil {
		return err
	}
	data, ok := d.endCeremony(w, r, who.person.ID)
	if !ok {
		return &studio.Problem{Kind: studio.Gone, Say: "That took too long. Press the button again."}
	}
	rp, err := d.relying(r)
	if err != nil {
		return err
	}
	answer, err := protocol.ParseCredentialCreationResponseBytes(a.Credential)
	if err == nil {
		var key *webauthn.Credential
		if key, err = rp.CreateCredential(who, data, answer); err == nil {
			if slices.ContainsFunc(who.keys, func(k webauthn.Credential) bool { return bytes.Equal(k.ID, key.ID) }) {
				return &studio.Problem{Kind: studio.Conflict, Say: "This device holds a passkey of this studio already."}
			}
			return d.keepPasskey(w, r, a.Name, key)
		}
	}
	return &studio.Problem{Kind: studio.Invalid, Say: "The passkey did not come through whole. Press the button again.", Err: err}
}

func (d *door) keepPasskey(w http.ResponseWriter, r *http.Request, name string, key *webauthn.Credential) error {
	doc, err := json.Marshal(key)
	if err != nil {
		return err
	}
	if name == "" {
		name = deviceName(r)
	}
	if _, err := d.f.Desk().AddPasskey(r.Context(), page.Viewer(r), name, doc); err != nil {
		return err
	}
	return page.JSON(w, map[string]string{"to": "/studio/door"})
}

// viewer is the signed-in teacher with the passkeys there are.
func (d *door) viewer(r *http.Request) (keyHolder, error) {
	person, keys, err := d.f.Desk().TeacherPasskeys(r.Context())
	if err != nil {
		return keyHolder{}, err
	}
	return holder(person, keys)
}

func (d *door) ceremonyCookie() string {
	if d.f.Secure() {
		return "__Host-antiphon-passkey"
	}
	return "antiphon-passkey"
}

func (d *door) bindCeremony(w http.ResponseWriter, name string) {
	d.setCeremony(w, name, int(ceremonyFor.Seconds()))
}

// endCeremony takes the browser's question back; it is answered once.
func (d *door) endCeremony(w http.ResponseWriter, r *http.Request, person studio.PersonID) (webauthn.SessionData, bool) {
	c, err := r.Cookie(d.ceremonyCookie())
	if err != nil {
		return webauthn.SessionData{}, false
	}
	d.setCeremony(w, "", -1)
	return d.going.take(c.Value, person)
}

func (d *door) setCeremony(w http.ResponseWriter, value string, age int) {
	http.SetCookie(w, &http.Cookie{Name: d.ceremonyCookie(), Value: value, Path: "/", MaxAge: age,
		HttpOnly: true, Secure: d.f.Secure(), SameSite: http.SameSiteStrictMode})
}
