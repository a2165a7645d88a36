package chromium

import (
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
)

// Touch says that the window is a touch screen.
func (b *Browser) Touch(on bool) {
	b.t.Helper()
	call(b, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: on})
}

// FingerAt puts a finger on the window, or moves it there where it lies already; the browser scrolls, or does not, by its
// own rules.
func (b *Browser) FingerAt(x, y float64, moves bool) {
	b.t.Helper()
	kind := input.DispatchTouchEventTypeTouchStart
	if moves {
		kind = input.DispatchTouchEventTypeTouchMove
	}
	call(b, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{{X: x, Y: y}}})
}

// FingerOff takes it away.
func (b *Browser) FingerOff() {
	b.t.Helper()
	call(b, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchEnd, TouchPoints: []*input.TouchPoint{}})
}

// Drag moves the mouse from one point of the window to another with its left button held.
func (b *Browser) Drag(fromX, fromY, toX, toY float64) {
	b.t.Helper()
	const steps = 5
	at := func(kind input.DispatchMouseEventType, part float64) {
		call(b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, Button: input.MouseButtonLeft, Buttons: 1, ClickCount: 1,
			X: fromX + part*(toX-fromX), Y: fromY + part*(toY-fromY)})
	}
	at(input.DispatchMouseEventTypeMousePressed, 0)
	for n := range steps {
		at(input.DispatchMouseEventTypeMouseMoved, float64(n+1)/steps)
	}
	at(input.DispatchMouseEventTypeMouseReleased, 1)
}
