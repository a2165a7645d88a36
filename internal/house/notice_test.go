package house

import (
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// TestNoticeNamesWhatWeShip: every module that is linked into the program is named in NOTICE.
func TestNoticeNamesWhatWeShip(t *testing.T) {
	notice, err := os.ReadFile("../../NOTICE")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}}{{end}}", "./cmd/antiphon")
	cmd.Dir = "../.."
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	paths := strings.Fields(string(out))
	slices.Sort(paths)
	for _, path := range slices.Compact(paths) {
		if path != module && !strings.Contains(string(notice), "  "+path+" ") {
			t.Errorf("NOTICE does not name %s", path)
		}
	}
}
