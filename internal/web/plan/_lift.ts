// Lifting something up and putting it down elsewhere, with a mouse, a pen or a finger. A finger that moves at once scrolls the
// page as ever: only one that rests for a moment lifts.

/** What a page does with it. Places are elements; null is none. */
export interface Lifting {
  things: string // selector of what can be lifted
  place: (x: number, y: number) => HTMLElement | null // that may be put down on, at a point of the window
  lifted: (thing: HTMLElement) => void
  over: (place: HTMLElement | null) => void
  put: (thing: HTMLElement, place: HTMLElement | null) => void // null: nowhere, or given up
}

const restMs = 350 // of a finger before it lifts
const still = 8 // CSS pixels that a resting finger may tremble
const begins = 4 // by which a mouse must move
const edge = 72 // from the upper and lower end of the window, where the page moves along

/** lifting makes what the selector names below root movable. What it gives back is to be called at once, and again when other
 * things have come. */
export function lifting(root: HTMLElement, how: Lifting, signal: AbortSignal): () => void {
  let held: { thing: HTMLElement; pointer: number; touch: boolean; x: number; y: number; up: boolean; timer: number } | null = null
  let at = { x: 0, y: 0 } // of the pointer, in the window
  let frame = 0

  const follow = () => {
    if (!held?.up) return
    held.thing.style.transform = `translate(${at.x + scrollX - held.x}px, ${at.y + scrollY - held.y}px)`
    how.over(how.place(at.x, at.y))
  }
  const scroll = () => {
    if (!held?.up) return
    const by = at.y < edge ? at.y - edge : at.y > innerHeight - edge ? at.y - innerHeight + edge : 0
    if (by !== 0) {
      scrollBy(0, by / 6)
      follow()
    }
    frame = requestAnimationFrame(scroll)
  }
  const rested = () => {
    const was = held // on a busy phone a movement may still be on its way: it comes before the next frame
    requestAnimationFrame(() => { if (was && was === held) lift() })
  }
  const lift = () => {
    if (!held) return
    held.up = true
    held.thing.setPointerCapture(held.pointer)
    held.thing.classList.add('lifted')
    how.lifted(held.thing)
    follow()
    frame = requestAnimationFrame(scroll)
  }
  const end = (put: boolean) => {
    const was = held
    held = null
    if (!was) return
    clearTimeout(was.timer)
    cancelAnimationFrame(frame)
    if (!was.up) return
    was.thing.classList.remove('lifted')
    was.thing.style.transform = ''
    how.over(null)
    how.put(was.thing, put ? how.place(at.x, at.y) : null)
  }

  root.addEventListener('pointerdown', (e) => {
    const thing = (e.target as HTMLElement).closest<HTMLElement>(how.things)
    if (!e.isPrimary) return end(false) // a second finger wants something else
    if (!thing || e.button !== 0) return
    const touch = e.pointerType === 'touch'
    held = { thing, pointer: e.pointerId, touch, x: e.clientX + scrollX, y: e.clientY + scrollY, up: false, timer: touch ? window.setTimeout(rested, restMs) : 0 }
    at = { x: e.clientX, y: e.clientY }
  }, { signal })
  root.addEventListener('pointermove', (e) => {
    if (!held || e.pointerId !== held.pointer) return
    at = { x: e.clientX, y: e.clientY }
    const far = Math.hypot(at.x + scrollX - held.x, at.y + scrollY - held.y)
    if (!held.up && held.touch && far > still) return end(false)
    if (!held.up && !held.touch && far > begins) lift()
    follow()
  }, { signal })
  root.addEventListener('pointerup', (e) => {
    if (e.pointerId === held?.pointer) end(true)
  }, { signal })
  root.addEventListener('pointercancel', (e) => {
    if (e.pointerId === held?.pointer) end(false)
  }, { signal })
  document.addEventListener('keydown', (e) => {
    if (e.key === 'Escape') end(false)
  }, { signal })
  root.addEventListener('contextmenu', (e) => {
    if (held?.touch) e.preventDefault() // a finger that rests is no right click
  }, { signal })
  // What is lifted moves, and not the page. Such a listener may hold up scrolling, so it stands only on what can be lifted; and it
  // must stand there before the finger comes.
  const hold = (e: TouchEvent) => {
    if (held?.up && e.cancelable) e.preventDefault()
  }
  return () => {
    for (const thing of root.querySelectorAll<HTMLElement>(how.things)) thing.addEventListener('touchmove', hold, { signal, passive: false })
  }
}
