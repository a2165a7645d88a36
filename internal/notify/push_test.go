package notify

import (
	"bytes"
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hkdf"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The worked example of RFC 8291, section 5 and appendix A.
const (
	rfcReceiver = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
	rfcPublic   = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
	rfcAuth     = "BTBZMqHH6r4Tts7J_aSIgg"
	rfcMessage  = "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
	rfcText     = "When I grow up, I want to be a watermelon"
)

func bytesOf(t testing.TB, s string) []byte {
	t.Helper()
	b, err := base64.RawURLEncoding.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// opened decrypts a message as the browser of the example does: RFC 8291, section 3, and RFC 8188, section 2.
func opened(t testing.TB, body []byte) (string, error) {
	t.Helper()
	private, err := ecdh.P256().NewPrivateKey(bytesOf(t, rfcReceiver))
	if err != nil {
		t.Fatal(err)
	}
	if len(body) < 21 || len(body) < 21+int(body[20]) {
		return "", errors.New("too short for its head")
	}
	salt, size, id := body[:16], binary.BigEndian.Uint32(body[16:20]), body[21:21+int(body[20])]
	sealed := body[21+len(id):]
	if len(sealed) > int(size) {
		return "", errors.New("more than one record")
	}
	public, err := ecdh.P256().NewPublicKey(id)
	if err != nil {
		return "", err
	}
	secret, err := private.ECDH(public)
	if err != nil {
		return "", err
	}
	derive := func(secret, salt []byte, info string, n int) []byte {
		k, err := hkdf.Key(sha256.New, secret, salt, info, n)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	ikm := derive(secret, bytesOf(t, rfcAuth), "WebPush: info\x00"+string(private.PublicKey().Bytes())+string(id), 32)
	block, err := aes.NewCipher(derive(ikm, salt, "Content-Encoding: aes128gcm\x00", 16))
	if err != nil {
		t.Fatal(err)
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := gcm.Open(nil, derive(ikm, salt, "Content-Encoding: nonce\x00", 12), sealed, nil)
	if err != nil {
		return "", err
	}
	text, ok := bytes.CutSuffix(bytes.TrimRight(plain, "\x00"), []byte{2})
	if !ok {
		return "", errors.New("the last record does not say that it is the last")
	}
	return string(text), nil
}

func keys(t testing.TB) Keys {
	t.Helper()
	k, err := OpenKeys(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// TestPush: what arrives at a push service is sealed for the browser of RFC 8291's example, and signed as
// RFC 8292 asks.
func TestPush(t *testing.T) {
	if got, err := opened(t, bytesOf(t, rfcMessage)); err != nil || got != rfcText {
		t.Fatalf("the example of RFC 8291 opens as %q, %v", got, err)
	}
	var head http.Header
	var body []byte
	service := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head = r.Header
		body, _ = io.ReadAll(r.Body)
		w.WriteHeader(http.StatusCreated)
	}))
	defer service.Close()
	k := keys(t)
	p := NewPusher(k, PushOptions{Client: service.Client()})
	s := Subscription{Endpoint: service.URL + "/push/abc"}
	s.Keys.P256dh, s.Keys.Auth = rfcPublic, rfcAuth
	if err := p.Push(t.Context(), s, Notice{Kind: Lesson, Language: "es", Studio: "Molino", Link: "https://studio.example.org/week"}); err != nil {
		t.Fatal(err)
	}
	got, err := opened(t, body)
	if err != nil {
		t.Fatal(err)
	}
	var m message
	if err := json.Unmarshal([]byte(got), &m); err != nil || m != (message{"Guitarra: hay una respuesta", "Hay una respuesta.", "https://studio.example.org/week", "es", "lesson"}) {
		t.Errorf("%+v, %v", m, err)
	}
	if len(body) > 4096 { // RFC 8030, 7.2: what every service takes
		t.Errorf("%d bytes", len(body))
	}
	if head.Get("Content-Encoding") != "aes128gcm" || head.Get("TTL") != "604800" || head.Get("Urgency") != "normal" {
		t.Errorf("%v", head)
	}
	checkVAPID(t, head.Get("Authorization"), k, service.URL)
	short := len(body)
	if err := p.Push(t.Context(), s, Notice{Kind: Hurt, Link: "https://studio.example.org/desk"}); err != nil || head.Get("Urgency") != "high" || len(body) != short {
		t.Errorf("that something hurt: %v, urgency %q, %d bytes and %d", err, head.Get("Urgency"), len(body), short)
	}
}

// checkVAPID reads the sender's signature: RFC 8292, sections 2 and 3.
func checkVAPID(t *testing.T, got string, k Keys, audience string) {
	t.Helper()
	rest, ok := strings.CutPrefix(got, "vapid t=")
	token, key, ok2 := strings.Cut(rest, ", k=")
	parts := strings.Split(token, ".")
	if !ok || !ok2 || key != k.Public() || len(parts) != 3 {
		t.Fatalf("signed %q", got)
	}
	var claims struct {
		Aud, Sub string
		Exp      int64
	}
	if err := json.Unmarshal(bytesOf(t, parts[1]), &claims); err != nil {
		t.Fatal(err)
	}
	now := time.Now().Unix()
	if claims.Aud != audience || claims.Exp <= now || claims.Exp > now+24*3600 || claims.Sub != "https://studio.example.org" {
		t.Errorf("claims %+v", claims)
	}
	point, sig := bytesOf(t, key), bytesOf(t, parts[2])
	sum := sha256.Sum256([]byte(parts[0] + "." + parts[1]))
	public, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), point)
	if err != nil {
		t.Fatal(err)
	}
	if len(sig) != 64 || !ecdsa.Verify(public, sum[:], new(big.Int).SetBytes(sig[:32]), new(big.Int).SetBytes(sig[32:])) {
		t.Error("the signature is not by the studio's key")
	}
}

// TestRetryAfter: seconds, dates and nonsense (RFC 9110, 10.2.3; the date is that of its example in 5.6.7).
func TestRetryAfter(t *testing.T) {
	now := time.Date(1994, 11, 6, 8, 47, 37, 0, time.UTC)
	for said, want := range map[string]float64{"": 0, "120": 120, "0": 0, "-5": 0, "NaN": 0, "soon": 0, "1e9": 86400,
		"Sun, 06 Nov 1994 08:49:37 GMT": 120, "Sun, 06 Nov 1994 08:40:00 GMT": 0, "Sat, 06 Nov 2094 08:49:37 GMT": 86400} {
		if got := retryAfter(http.Header{"Retry-After": {said}}, now); got != want {
			t.Errorf("%q: %v seconds, want %v", said, got, want)
		}
	}
}

func TestPushAnswers(t *testing.T) {
	var code int
	service := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Retry-After", "120")
		w.Header().Set("Location", "https://elsewhere.example/")
		w.WriteHeader(code)
	}))
	defer service.Close()
	p := NewPusher(keys(t), PushOptions{Client: service.Client(), Contact: "mailto:a@example.org"})
	s := Subscription{Endpoint: service.URL}
	s.Keys.P256dh, s.Keys.Auth = rfcPublic, rfcAuth
	n := Notice{Kind: Take, Link: "https://studio.example.org/desk"}
	for c, is := range map[int]error{404: ErrGone, 410: ErrGone, 400: ErrRefused, 413: ErrRefused, 403: ErrRefused} { // RFC 8030, 5 and 7.3
		if code = c; !errors.Is(p.Push(t.Context(), s, n), is) {
			t.Errorf("%d is not %v", c, is)
		}
	}
	for _, code = range []int{429, 500, 503} {
		if later, ok := errors.AsType[*LaterError](p.Push(t.Context(), s, n)); !ok || later.AfterS != 120 {
			t.Errorf("%d: %+v", code, later)
		}
	}
	for _, n := range []Notice{{Kind: "party", Link: n.Link}, {Kind: Lesson}, {Kind: Lesson, Link: "javascript:alert(1)"}, {Kind: Confirm, Link: n.Link}} {
		if err := p.Push(t.Context(), s, n); !errors.Is(err, ErrRefused) {
			t.Errorf("%+v: %v", n, err)
		}
	}
	bad := s
	bad.Keys.P256dh = "BAAA"
	if err := p.Push(t.Context(), bad, n); err == nil {
		t.Error("a key that is none is used")
	}
	service.Close()
	if err := p.Push(t.Context(), s, n); err == nil || errors.Is(err, ErrGone) || errors.Is(err, ErrRefused) {
		t.Errorf("a service that is away: %v", err)
	}
}

// TestSubscriptions: a family cannot make the server call what it likes.
func TestSubscriptions(t *testing.T) {
	doc := func(endpoint, p256dh, auth string) string {
		return fmt.Sprintf(`{"endpoint":%q,"expirationTime":null,"keys":{"p256dh":%q,"auth":%q}}`, endpoint, p256dh, auth)
	}
	good := doc("https://push.example.net/send/abc", rfcPublic, rfcAuth)
	if s, err := ReadSubscription([]byte(good)); err != nil || s.Endpoint != "https://push.example.net/send/abc" {
		t.Errorf("%+v, %v", s, err)
	}
	for _, bad := range []string{
		"", "null", "[]", doc("http://push.example.net/", rfcPublic, rfcAuth), doc("https://127.0.0.1/", rfcPublic, rfcAuth), doc("https://[::1]/", rfcPublic, rfcAuth),
		doc("https://localhost/", rfcPublic, rfcAuth), doc("https://a:b@push.example.net/", rfcPublic, rfcAuth), doc("https://push.example.net:8443/", rfcPublic, rfcAuth),
		doc("file:///etc/passwd", rfcPublic, rfcAuth), doc("https://push.example.net/", "AAAA", rfcAuth), doc("https://push.example.net/", rfcPublic, "AAAA"),
		doc("https://push.example.net/"+strings.Repeat("a", 5000), rfcPublic, rfcAuth),
	} {
		if s, err := ReadSubscription([]byte(bad)); !errors.Is(err, ErrRefused) {
			t.Errorf("%.80s: %+v, %v", bad, s, err)
		}
	}
	for at, want := range map[string]bool{"8.8.8.8": true, "2606:4700::1": true, "127.0.0.1": false, "10.1.2.3": false, "192.168.0.1": false, "169.254.169.254": false,
		"::1": false, "fe80::1": false, "fd00::1": false, "100.64.0.1": false, "::ffff:10.0.0.1": false, "0.0.0.0": false, "224.0.0.1": false,
		"64:ff9b::7f00:1": false, "64:ff9b::a9fe:a9fe": false, "2002:7f00:1::": false, "::127.0.0.1": false, "0.1.2.3": false, "fec0::1": false, "198.18.0.1": false, "240.0.0.1": false,
		"255.255.255.255": false, "2001:0:7f00:1::1": false, "::ffff:127.0.0.1": false, "1.1.1.1": true, "2a00:1450:4001:80b::200e": true} {
		if public(netip.MustParseAddr(at)) != want {
			t.Errorf("%s is public: %v", at, !want)
		}
	}
	inside := httptest.NewTLSServer(http.NotFoundHandler())
	defer inside.Close()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	s := Subscription{Endpoint: inside.URL}
	s.Keys.P256dh, s.Keys.Auth = rfcPublic, rfcAuth
	if err := NewPusher(keys(t), PushOptions{}).Push(ctx, s, Notice{Kind: Take, Link: "https://a.example/"}); !errors.Is(err, ErrRefused) {
		t.Errorf("a server inside was called: %v", err)
	}
}

func TestKeys(t *testing.T) {
	dir := t.TempDir()
	a, err := OpenKeys(dir)
	if err != nil {
		t.Fatal(err)
	}
	b, err := OpenKeys(dir)
	if err != nil || b.Public() != a.Public() || b.secret() != a.secret() {
		t.Errorf("the keys changed: %v", err)
	}
	if st, err := os.Stat(filepath.Join(dir, keysFile)); err != nil || st.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", st.Mode(), err)
	}
	if l, err := os.ReadDir(dir); err != nil || len(l) != 1 {
		t.Errorf("left behind: %v, %v", l, err)
	}
	if err := os.WriteFile(filepath.Join(dir, keysFile), []byte("{}"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenKeys(dir); err == nil || !strings.Contains(err.Error(), "bring back") {
		t.Errorf("damaged keys: %v", err)
	}
}
