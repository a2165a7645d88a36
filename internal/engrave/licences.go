package engrave

import (
	"embed"
	"fmt"
	"io"
)

//go:embed licences
var licences embed.FS

// carried is what travels with the program and is not ours.
var carried = [...]struct{ what, file string }{
	{"Verovio 6.3.0, the engraving library, Copyright (c) Laurent Pugin and others, LGPL-3.0-or-later.\nSource: https://github.com/rism-digital/verovio (tag version-6.3.0) and the npm package verovio 6.3.0.\nscripts/engraver in Antiphon's source builds it into what is embedded here; `antiphon engrave --engraver FILE`\nuses another build in its place.", "LGPL-3.0.txt"},
	{"The GNU General Public License, which the GNU Lesser General Public License adds to.", "GPL-3.0.txt"},
	{"Leipzig, the music font inside Verovio, OFL-1.1. Source: https://github.com/rism-digital/leipzig", "Leipzig-OFL-1.1.txt"},
	{"Tinos, the text font inside PDFs, OFL-1.1. Source: https://github.com/googlefonts/tinos", "Tinos-OFL-1.1.txt"},
}

// Licences writes what is carried along with its licences.
func Licences(w io.Writer) error {
	for _, c := range carried {
		text, err := licences.ReadFile("licences/" + c.file)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(w, "%s\n\n%s\n\n", c.what, text); err != nil {
			return err
		}
	}
	return nil
}
