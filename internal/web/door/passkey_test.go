package door_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/descope/virtualwebauthn"
)

// keyring is a browser with an authenticator, as github.com/descope/virtualwebauthn plays one.
type keyring struct {
	t    *testing.T
	s    site
	jar  *cookiejar.Jar
	rp   virtualwebauthn.RelyingParty
	auth virtualwebauthn.Authenticator
	key  virtualwebauthn.Credential
}

func newKeyring(t *testing.T, s site, device string) *keyring {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	k := &keyring{t: t, s: s, jar: jar, auth: virtualwebauthn.NewAuthenticator(),
		rp:  virtualwebauthn.RelyingParty{ID: "studio.example", Name: "Antiphon", Origin: address},
		key: virtualwebauthn.NewCredential(virtualwebauthn.KeyTypeEC2)}
	if device != "" {
		k.setCookie("antiphon", device)
	}
	return k
}

func (k *keyring) setCookie(name, value string) {
	at, err := url.Parse(k.s.URL)
	if err != nil {
		k.t.Fatal(err)
	}
	k.jar.SetCookies(at, []*http.Cookie{{Name: name, Value: value, Path: "/"}})
}

func (k *keyring) cookie(name string) string {
	at, err := url.Parse(k.s.URL)
	if err != nil {
		k.t.Fatal(err)
	}
	for _, c := range k.jar.Cookies(at) {
		if c.Name == name {
			return c.Value
		}
	}
	return ""
}

// post sends JSON as the page's script does, and gives the cookies that came back.
func (k *keyring) post(path string, body any) (status int, answer string, got map[string]*http.Cookie) {
	k.t.Helper()
	b, err := json.Marshal(body)
	if err != nil {
		k.t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(k.t.Context(), http.MethodPost, k.s.URL+path, bytes.NewReader(b))
	if err != nil {
		k.t.Fatal(err)
	}
	r.Header.Set("Accept", "application/json")
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	a, err := (&http.Client{Jar: k.jar}).Do(r)
	if err != nil {
		k.t.Fatal(err)
	}
	defer a.Body.Close()
	got = map[string]*http.Cookie{}
	for _, c := range a.Cookies() {
		got[c.Name] = c
	}
	return a.StatusCode, text(k.t, a), got
}

// make adds a passkey as the signed-in teacher.
func (k *keyring) make(name string) (status int, answer string) {
	k.t.Helper()
	status, question, _ := k.post("/studio/door/passkeys", struct{}{})
	if status != 200 {
		return status, question
	}
	o, err := virtualwebauthn.ParseAttestationOptions(question)
	if err != nil {
		k.t.Fatal(err)
	}
	k.auth.Options.UserHandle = []byte(o.UserID)
	status, answer, _ = k.post("/studio/door/passkeys/answer", map[string]any{"name": name,
		"credential": json.RawMessage(virtualwebauthn.CreateAttestationResponse(k.rp, k.auth, k.key, *o))})
	return status, answer
}

// answer asks for a question and answers it with the key.
func (k *keyring) answer() string {
	k.t.Helper()
	status, question, got := k.post("/sign-in/passkey", struct{}{})
	if status != 200 {
		k.t.Fatal(status, question)
	}
	c := got["antiphon-passkey"]
	if c == nil || !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.MaxAge != 300 || strings.Contains(question, c.Value) {
		k.t.Fatalf("the ceremony's cookie: %+v", c)
	}
	if !strings.Contains(question, `"userVerification":"preferred"`) || strings.Contains(question, "allowCredentials") {
		k.t.Errorf("the question is %s", question)
	}
	o, err := virtualwebauthn.ParseAssertionOptions(question)
	if err != nil {
		k.t.Fatal(err)
	}
	return virtualwebauthn.CreateAssertionResponse(k.rp, k.auth, k.key, *o)
}

func (k *keyring) enter(answer string) (status int, text, device string) {
	k.t.Helper()
	status, text, got := k.post("/sign-in/passkey/answer", map[string]any{"credential": json.RawMessage(answer), "to": "https://elsewhere.example/"})
	if c := got["antiphon"]; c != nil {
		device = c.Value
	}
	return status, text, device
}

func TestPasskey(t *testing.T) {
	s := open(t)
	k := newKeyring(t, s, s.TeacherDevice)
	k.key.Counter = 5
	if status, answer := k.make("Blue <key>"); status != 200 {
		t.Fatal(status, answer)
	}
	if status, answer := k.make("The same again"); status != http.StatusConflict {
		t.Errorf("one key is kept twice: %d %s", status, answer)
	}
	if _, body := s.Get(t, s.TeacherDevice, "/studio/door"); !strings.Contains(body, "Blue &lt;key&gt;") || strings.Contains(body, "Blue <key>") {
		t.Error("the new passkey is not on the page, or not escaped")
	}

	b := newKeyring(t, s, "")
	b.auth, b.key = k.auth, k.key
	b.key.Counter = 6
	good := b.answer()
	status, body, device := b.enter(good)
	if status != 200 || device == "" || !strings.Contains(body, `"to":"/desk"`) {
		t.Fatalf("signing in: %d %s", status, body)
	}
	if status, _ := s.Get(t, device, "/studio/door"); status != 200 {
		t.Errorf("the device that came in by passkey: %d", status)
	}

	_, none, _ := b.enter(good)
	refuse := func(name string, status int, body, device string) {
		t.Helper()
		if status != 403 || device != "" || body != none {
			t.Errorf("%s: %d %s", name, status, body)
		}
	}
	status, body, device = b.enter(good)
	refuse("the same answer again", status, body, device)

	b.key.Counter = 7
	a := b.answer()
	other := newKeyring(t, s, "")
	status, body, device = other.enter(a)
	refuse("another browser", status, body, device)

	s.Wait(time.Hour)
	a = b.answer()
	s.Wait(5*time.Minute + time.Second)
	status, body, device = b.enter(a)
	refuse("too late", status, body, device)

	s.Wait(time.Hour)
	b.key.Counter = 6 // not above the last one: Web Authentication, W3C, 6.1.1 and step 22 of 7.2
	status, body, device = b.enter(b.answer())
	refuse("a key whose counter did not go up", status, body, device)

	b.key.Counter = 8
	b.rp.Origin = "https://elsewhere.example"
	status, body, device = b.enter(b.answer())
	refuse("an answer given at another site", status, body, device)
	b.rp.Origin = address

	s.Wait(time.Hour)
	b.auth.Options.UserHandle = []byte("somebody else")
	status, body, device = b.enter(b.answer())
	refuse("somebody else's handle", status, body, device)
	b.auth.Options.UserHandle = k.auth.Options.UserHandle

	stranger := newKeyring(t, s, "")
	stranger.auth.Options.UserHandle = k.auth.Options.UserHandle
	status, body, device = stranger.enter(stranger.answer())
	refuse("a key that was never added", status, body, device)

	s.Wait(time.Hour)
	if status, _, device := b.enter(b.answer()); status != 200 || device == "" {
		t.Errorf("the right key after all that: %d", status)
	}
	keys, err := s.Desk.Passkeys(t.Context(), s.Teacher)
	if err != nil || len(keys) != 1 {
		t.Fatal(len(keys), err)
	}
	if status, _, to := s.Post(t, s.TeacherDevice, "/studio/door/passkeys/"+string(keys[0].ID)+"/forget", nil); status != 303 || to != "/studio/door?done=forgotten" {
		t.Errorf("forgetting: %d, leads to %q", status, to)
	}
	b.key.Counter = 9
	status, body, device = b.enter(b.answer())
	refuse("a removed key", status, body, device)
}

// TestPasskeyOfAnother: a question that was asked for signing in adds no passkey.
func TestPasskeyOfAnother(t *testing.T) {
	s := open(t)
	k := newKeyring(t, s, s.TeacherDevice)
	_, _, got := k.post("/sign-in/passkey", struct{}{})
	_, question, _ := k.post("/studio/door/passkeys", struct{}{})
	o, err := virtualwebauthn.ParseAttestationOptions(question)
	if err != nil {
		t.Fatal(err)
	}
	k.setCookie("antiphon-passkey", got["antiphon-passkey"].Value)
	status, body, _ := k.post("/studio/door/passkeys/answer", map[string]any{
		"credential": json.RawMessage(virtualwebauthn.CreateAttestationResponse(k.rp, k.auth, k.key, *o))})
	if status != http.StatusGone {
		t.Errorf("%d %s", status, body)
	}
}

// TestPasskeyReplay: most passkeys count nothing and always say 0. What keeps their answers from being used
// again is that a question is answered once.
func TestPasskeyReplay(t *testing.T) {
	s := open(t)
	k := newKeyring(t, s, s.TeacherDevice)
	if status, answer := k.make("Counts nothing"); status != 200 {
		t.Fatal(status, answer)
	}
	b := newKeyring(t, s, "")
	b.auth, b.key = k.auth, k.key
	answer := b.answer()
	asked := b.cookie("antiphon-passkey")
	for try, want := range []int{200, 403} {
		b.setCookie("antiphon-passkey", asked)
		if status, body, _ := b.enter(answer); status != want {
			t.Errorf("try %d: %d %s", try, status, body)
		}
	}
}
