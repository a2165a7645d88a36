package notify

import (
	"crypto/ecdh"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Keys are what the studio signs its push messages with, so that push services know the sender (RFC 8292). Whoever has the file can send in the studio's name; a lost one costs every browser its
// subscription, so it belongs into every copy that is kept of the studio.
type Keys struct{ private *ecdh.PrivateKey }

type keptKeys struct {
	Private string `json:"vapid_private"` // P-256, 32 bytes, base64url
}

// keysFile lies beside the studio's database.
const keysFile = "notices.key"

// OpenKeys reads the keys in the studio's folder, or makes them.
func OpenKeys(dir string) (Keys, error) {
	path := filepath.Join(dir, keysFile)
	raw, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		if err := makeKeys(dir, path); err != nil {
			return Keys{}, fmt.Errorf("the keys for notices cannot be kept in %s (%w): make room or check its permissions", path, err)
		}
		raw, err = os.ReadFile(path)
	}
	if err != nil {
		return Keys{}, fmt.Errorf("the keys for notices cannot be read from %s (%w): check its permissions", path, err)
	}
	k, err := readKeys(raw)
	if err != nil {
		return Keys{}, fmt.Errorf("%s holds no keys (%w): bring back the file from a copy of the studio, or remove it; then every phone has to allow notices again", path, err)
	}
	return k, nil
}

// makeKeys writes new keys; where two programs do so at once, the first one's stay.
func makeKeys(dir, path string) error {
	private, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		return err
	}
	b, err := json.Marshal(keptKeys{base64.RawURLEncoding.EncodeToString(private.Bytes())})
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, ".notices-*") // made with 0600
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Link(f.Name(), path); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}

func readKeys(raw []byte) (Keys, error) {
	var kept keptKeys
	if err := json.Unmarshal(raw, &kept); err != nil {
		return Keys{}, err
	}
	d, err := base64.RawURLEncoding.DecodeString(kept.Private)
	if err != nil {
		return Keys{}, err
	}
	private, err := ecdh.P256().NewPrivateKey(d)
	if err != nil {
		return Keys{}, err
	}
	return Keys{private}, nil
}

// Public is the key that a browser wants when it subscribes (applicationServerKey): base64url, uncompressed point.
func (k Keys) Public() string {
	return base64.RawURLEncoding.EncodeToString(k.private.PublicKey().Bytes())
}

func (k Keys) secret() string { return base64.RawURLEncoding.EncodeToString(k.private.Bytes()) }

// randomID names a mail.
func randomID() string { return rand.Text() }
