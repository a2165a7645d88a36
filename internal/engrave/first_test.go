package engrave

import (
	"errors"
	"testing"
)

// TestWithoutTheLibrary: a program built without assets says what to run.
func TestWithoutTheLibrary(t *testing.T) {
	e, err := New(Settings{})
	if Available() {
		if err != nil {
			t.Fatal(err)
		}
		if err := e.Close(); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !errors.Is(err, ErrNoLibrary) {
		t.Errorf("got %v, want ErrNoLibrary", err)
	}
}
