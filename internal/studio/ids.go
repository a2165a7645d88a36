package studio

import (
	"crypto/sha256"
	"encoding/base32"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
)

// Ids are 128 random bits: nobody finds a take by counting. The types keep one kind of id from
// standing where another belongs.
type (
	StudioID     string
	FamilyID     string
	PersonID     string
	StudentID    string
	WorkID       string
	CollectionID string
	LessonID     string
	AssignmentID string
	TakeID       string
	MediaID      string
	HearingID    string
	CorrectionID string
	RemarkID     string
	ConsentID    string
	DeviceID     string
	InvitationID string
	ReceiptID    string
	PasskeyID    string
	PassageID    string
	UnsortedID   string
	NoticeID     string
	PushID       string
	NudgeID      string
	LetterID     string
	FingeringID  string
)

const (
	idBytes  = 16
	idLength = 26 // of base32 without padding
	alphabet = "0123456789abcdefghjkmnpqrstvwxyz"
)

// NewID draws an id from r.
func NewID[T ~string](r io.Reader) (T, error) {
	var b [idBytes]byte
	if _, err := io.ReadFull(r, b[:]); err != nil {
		return "", fmt.Errorf("drawing an id: %w", err)
	}
	return T(base32.NewEncoding(alphabet).WithPadding(base32.NoPadding).EncodeToString(b[:])), nil
}

// IsID tells an id from anything else that may stand in an address or a file name.
func IsID[T ~string](id T) bool {
	return len(id) == idLength && strings.Trim(string(id), alphabet) == ""
}

// newToken draws a secret for a link or a device. Only its hash is stored.
func newToken(r io.Reader) (token, hash string, err error) {
	var b [32]byte
	if _, err := io.ReadFull(r, b[:]); err != nil {
		return "", "", fmt.Errorf("drawing a token: %w", err)
	}
	token = base64.RawURLEncoding.EncodeToString(b[:])
	return token, hashToken(token), nil
}

// hashToken needs no salt and no slowness: the token has 256 random bits.
func hashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}
