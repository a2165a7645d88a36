package year

import (
	"fmt"
	"io"
	"math"
	"strings"

	"antiphon/internal/plan/warn"
)

// Plot draws a reliability plot as SVG: for the warnings of each tenth, what was said against what came. Dots on the line are
// honest; their area is the number of warnings.
func (w Warned) Plot(out io.Writer) error {
	const size, edge = 320.0, 40.0
	at := func(x float64) float64 { return edge + x*size }
	up := func(y float64) float64 { return edge + (1-y)*size }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" font-family="serif" font-size="12" role="img">`+"\n", size+2*edge, size+2*edge)
	b.WriteString("<title>Early warnings: the chance that was said, and how often it came true</title>\n")
	fmt.Fprintf(&b, `<path d="M%g %gH%gM%g %gV%g" stroke="#333" fill="none"/>`+"\n", at(0), up(0), at(1), at(0), up(0), up(1))
	fmt.Fprintf(&b, `<path d="M%g %gL%g %g" stroke="#999" stroke-dasharray="4 4" fill="none"/>`+"\n", at(0), up(0), at(1), up(1))
	for i := 0; i <= 10; i += 2 {
		x := float64(i) / 10
		fmt.Fprintf(&b, `<text x="%g" y="%g" text-anchor="middle">%.1f</text><text x="%g" y="%g" text-anchor="end">%.1f</text>`+"\n", at(x), up(0)+16, x, at(0)-6, up(x)+4, x)
	}
	for _, x := range warn.Reliability(w.Said, w.Came) {
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="%.1f" fill="none" stroke="#333"><title>said %.2f, came %.2f, %d warnings</title></circle>`+"\n",
			at(x.Mean), up(x.Came), 2+math.Sqrt(float64(x.Count))/3, x.Mean, x.Came, x.Count)
	}
	fmt.Fprintf(&b, `<text x="%g" y="%g" text-anchor="middle">said</text><text x="%g" y="%g">came</text>`+"\n</svg>\n", at(0.5), up(0)+32, at(0)-30, up(1)-12)
	_, err := io.WriteString(out, b.String())
	return err
}
