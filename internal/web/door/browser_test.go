package door_test

import (
	"fmt"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"antiphon/internal/studio"
	"antiphon/internal/web/webtest/chromium"
)

// TestSetUpInABrowser: the teacher founds the studio with a passkey, and comes back with it. Chromium's own
// virtual authenticator (Web Authentication, W3C, 11) holds the key.
func TestSetUpInABrowser(t *testing.T) {
	desk, h := empty(t, false)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	b := chromium.Open(t, strings.Replace(server.URL, "127.0.0.1", "localhost", 1)) // a passkey belongs to a name
	b.Authenticator()
	secret, err := desk.OpenSetUp(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	both := func(name string) {
		t.Helper()
		for _, look := range looks {
			b.Look(look.width, look.scheme)
			for _, fault := range b.Faults() {
				t.Errorf("%s, %d px, %s: %s", name, look.width, look.scheme, fault)
			}
			b.Shoot(name + "-" + look.name)
		}
		b.Look(1440, "light")
	}
	b.Go("/set-up/" + secret)
	both("set-up")
	b.Write("#studio", "Studio Under the Lime Tree")
	b.Write("#name", "Marit Sandoval")
	b.Click(`input[value="passkey"]`)
	b.Click("form.door button")
	b.Wait(`document.querySelectorAll(".codes code").length === 10`)
	b.Awake()
	both("codes")
	b.Click("[data-go]")
	b.Wait(`location.pathname === "/desk"`)
	b.Expect("404") // the desk is another package's

	b.Go("/studio/door")
	both("own")
	keys, err := desk.Passkeys(t.Context(), chromiumTeacher(t, desk))
	if err != nil || len(keys) != 1 || keys[0].Name != "Computer" {
		t.Fatal(len(keys), err)
	}
	b.Click("[data-go]") // the same device again
	b.Wait(`!document.querySelector("[data-problem]").hidden && document.querySelector("[data-problem]").textContent.includes("holds a passkey")`)

	b.Forget()
	b.Go("/studio/door")
	if got := chromium.Eval[string](b, "location.pathname + location.search"); got != "/sign-in?to=%2Fstudio%2Fdoor" {
		t.Fatalf("a stranger is at %s", got)
	}
	both("sign-in")
	b.Click("[data-go]")
	b.Wait(`location.pathname === "/studio/door"`)
	b.Awake()
	if !chromium.Eval[bool](b, `document.querySelector(".keys").textContent.includes("last used today")`) {
		t.Error("the passkey is not said to be used")
	}
	b.Go("/recover")
	both("recover")
}

// chromiumTeacher is the teacher as a viewer, by a device of its own.
func chromiumTeacher(t *testing.T, desk *studio.Desk) studio.Viewer {
	t.Helper()
	home, _, err := desk.Home(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	person, _, err := desk.TeacherPasskeys(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return studio.Viewer{Studio: home.ID, Role: studio.Teacher, Person: person.ID}
}

var looks = []struct {
	name   string
	width  int64
	scheme string
}{{"390", 390, "light"}, {"390-dark", 390, "dark"}, {"1440", 1440, "light"}, {"1440-dark", 1440, "dark"}}

// TestJoinInABrowser: a family opens its link, reads what is asked, and connects its phone by keyboard alone.
func TestJoinInABrowser(t *testing.T) {
	s := open(t)
	b := chromium.Open(t, s.URL)
	_, token := s.invite(t, studio.NewFamily{Name: "Brandt", Students: []studio.NewStudent{{Name: "Ida"}, {Name: "Tom", Media: studio.FullVideo}}})
	visit := func(name, path string) {
		t.Helper()
		b.Go(path)
		for _, look := range looks {
			b.Look(look.width, look.scheme)
			for _, fault := range b.Faults() {
				t.Errorf("%s, %d px, %s: %s", name, look.width, look.scheme, fault)
			}
			b.Shoot(name + "-" + look.name)
		}
		b.Look(390, "light")
	}
	visit("join", "/join/"+token)
	chromium.Eval[bool](b, `(document.querySelector('input[name="media-`+string(childNamed(t, s, "Ida"))+`"]:checked').focus(), true)`)
	b.Press("\u2193") // the arrow key goes to the next choice
	b.Write("#name", "Jo Brandt")
	chromium.Eval[bool](b, `(document.querySelector('[name=agrees]').focus(), true)`)
	b.Press(" ")
	b.Press("\r")
	b.Wait(`location.pathname === "/week"`)
	b.Expect("404") // the week is another package's
	visit("devices", "/devices")
	if !chromium.Eval[bool](b, `document.querySelector("main").textContent.includes("Jo Brandt")`) {
		t.Error("the phone is not on the list")
	}
	b.Click(".name-it summary")
	for _, fault := range b.Faults() {
		t.Errorf("naming a phone: %s", fault)
	}
	b.Shoot("devices-naming")
	chromium.Eval[bool](b, `(document.querySelector(".name-it input").value = "", true)`)
	b.Write(".name-it input", "Kitchen phone\r")
	b.Wait(`document.querySelector(".keys .name").textContent.includes("Kitchen phone")`)
	b.Awake()
	// A recording waits for a network: signing out says first that it would be lost.
	const inList = `new Promise((done, no) => { const o = indexedDB.open(%q, 1)
		o.onupgradeneeded = () => o.result.createObjectStore(%q, { keyPath: "id" })
		o.onerror = no
		o.onsuccess = () => { const t = o.result.transaction(%[2]q, "readwrite"); t.objectStore(%[2]q).%[3]s
			t.oncomplete = () => { o.result.close(); done(true) } } })`
	chromium.Eval[bool](b, fmt.Sprintf(inList, "antiphon-outbox", "parcels", `put({ id: "one", from: "/week", kind: "take", made: Date.now(), said: {} })`))
	b.Click(".keys > li > form button")
	b.Wait(`!document.querySelector("[data-unsent]").hidden && document.querySelector(".keys > li > form button").textContent === "Sign out and lose it"`)
	for _, fault := range b.Faults() {
		t.Errorf("something is not sent: %s", fault)
	}
	b.Shoot("devices-unsent")
	// What was sent lately is kept for pages without a network, and is no reason to ask.
	chromium.Eval[bool](b, fmt.Sprintf(inList, "antiphon-outbox", "parcels", `clear()`))
	chromium.Eval[bool](b, fmt.Sprintf(inList, "antiphon-log", "taps", `put({ id: "two", kind: "done", student: "x", at: new Date().toISOString(), sent: true })`))
	b.Go("/devices")
	b.Click(".keys > li > form button")
	b.Wait(`document.querySelector("h1").textContent === "This phone is signed out"`)
	b.Awake()
	for _, fault := range b.Faults() {
		t.Errorf("signed out: %s", fault)
	}
	b.Shoot("left")
	visit("over", "/join/"+token)
	b.Expect("410")
	b.Cookie("language", "es")
	_, token = s.invite(t, studio.NewFamily{Name: "Brandt", Students: []studio.NewStudent{{Name: "Ida"}}})
	visit("join-es", "/join/"+token+"?"+url.Values{}.Encode())
}

func childNamed(t *testing.T, s site, name string) studio.StudentID {
	t.Helper()
	all, err := s.Desk.Students(t.Context(), s.Teacher)
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range all {
		if one.Name == name {
			return one.ID
		}
	}
	t.Fatal("no child ", name)
	return ""
}
