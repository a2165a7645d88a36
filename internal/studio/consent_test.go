package studio

import (
	"strings"
	"testing"
)

// TestConsentInTheFamilysLanguage: a family is asked in words that it reads, and where there are none in English.
func TestConsentInTheFamilysLanguage(t *testing.T) {
	for language, want := range map[string]string{"en": "your own family", "es": "vuestra propia familia", "xx": "your own family"} {
		what, who := DefaultConsent(language)
		if !strings.Contains(who, want) || what == "" {
			t.Errorf("%s: %q, %q", language, what, who)
		}
	}
}
