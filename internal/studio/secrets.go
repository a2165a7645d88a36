package studio

import (
	"context"
	"encoding/base32"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
)

// What argon2id costs: 19 MiB, two passes, one lane (OWASP Password Storage Cheat Sheet, first choice
// for argon2id; about 45 ms on the machine this was written on).
var argon = argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// nobodysHash is checked where there is no password, so that a wrong answer takes as long everywhere.
// All its bits are zero, which no password gives that anybody could find.
const nobodysHash = "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

const (
	hashesAtOnce     = 2
	shortestPassword = 10  // letters; NIST SP 800-63B asks for 8 at least (from memory)
	longestPassword  = 200 // letters; so that hashing has an end
)

// hashPassword refuses what is too short or too plain, and takes one of few places at the hashing:
// each holds 19 MiB.
func (d *Desk) hashPassword(ctx context.Context, password string, names ...string) (string, error) {
	n := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password) || n > longestPassword:
		return "", invalid("The password is longer than %d letters. Choose a shorter one.", longestPassword)
	case n < shortestPassword:
		return "", invalid("The password needs at least %d letters. A sentence is easier to keep in mind than signs.", shortestPassword)
	case strings.Trim(password, password[:1]) == "":
		return "", invalid("The password is one letter again and again. Choose another.")
	}
	for _, name := range names {
		if strings.EqualFold(strings.TrimSpace(password), name) {
			return "", invalid("The password is a name that stands on the page. Choose another.")
		}
	}
	done, err := d.atTheHash(ctx)
	if err != nil {
		return "", err
	}
	defer done()
	return argon2id.CreateHash(password, &argon)
}

// rightPassword compares in constant time; "" as hash is nobody's, and takes as long.
func (d *Desk) rightPassword(ctx context.Context, password, hash string) (bool, error) {
	done, err := d.atTheHash(ctx)
	if err != nil {
		return false, err
	}
	defer done()
	known := hash != ""
	if !known {
		hash = nobodysHash
	}
	if utf8.RuneCountInString(password) > longestPassword {
		password = password[:longestPassword]
		known = false
	}
	right, err := argon2id.ComparePasswordAndHash(password, hash)
	return right && known, err
}

func (d *Desk) atTheHash(ctx context.Context) (done func(), err error) {
	select {
	case d.hashing <- struct{}{}:
		return func() { <-d.hashing }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

const (
	recoveryCodes  = 10
	recoveryBytes  = 10 // 80 random bits: nobody tries them all
	recoveryGroups = 4  // of four signs
)

// newRecoveryCode is 16 signs in groups, "k3m9-…", that nobody confuses on paper (Crockford's base32).
func newRecoveryCode(r io.Reader) (string, error) {
	var b [recoveryBytes]byte
	if _, err := io.ReadFull(r, b[:]); err != nil {
		return "", fmt.Errorf("drawing a recovery code: %w", err)
	}
	s := base32.NewEncoding(alphabet).WithPadding(base32.NoPadding).EncodeToString(b[:])
	groups := make([]string, recoveryGroups)
	for i := range groups {
		groups[i] = s[4*i : 4*i+4]
	}
	return strings.Join(groups, "-"), nil
}

// hashRecoveryCode forgives what people do when they copy from paper: capitals, spaces, other dashes,
// and the letters that Crockford's base32 leaves out.
func hashRecoveryCode(code string) string {
	read := strings.NewReplacer("o", "0", "i", "1", "l", "1")
	return hashToken("recovery " + strings.Map(func(r rune) rune {
		if strings.ContainsRune(alphabet, r) {
			return r
		}
		return -1
	}, read.Replace(strings.ToLower(code))))
}
