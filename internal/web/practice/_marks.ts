// _marks.ts shows in the engraved music which bar sounds and which bars are chosen, and finds the bar that was
// tapped. A bar that sounds has a frame with a thick foot; chosen bars have a bracket below.

interface Box {
  system: SVGGElement
  left: number
  right: number
  top: number
  low: number
}

const number = (e: Element, name: string): number => Number(e.getAttribute(name) ?? '0')
const room = 200 // units of the engraving, above and below the staves

function draw(name: string, sizes: Record<string, number>, className: string): SVGElement {
  const e = document.createElementNS('http://www.w3.org/2000/svg', name)
  for (const [k, v] of Object.entries(sizes)) e.setAttribute(k, String(Math.round(v)))
  e.setAttribute('class', className)
  return e
}

export class Marks {
  private boxes = new Map<number, Box>()
  private now: SVGElement[] = []
  private chosen: SVGElement[] = []
  private shown = -1

  /** Takes music that was put into the page. */
  set(svg: SVGSVGElement): void {
    this.boxes = new Map()
    this.now = this.chosen = []
    this.shown = -1
    for (const system of svg.querySelectorAll<SVGGElement>('g.system')) {
      for (const m of system.querySelectorAll('[data-bar]')) {
        const left = number(m, 'data-left')
        this.boxes.set(number(m, 'data-bar'), { system, left, right: number(m, 'data-right'), top: number(system, 'data-top') - room, low: number(system, 'data-low') + room })
      }
    }
  }

  /** Marks the bar that sounds; none with −1. */
  at(bar: number, follow: boolean): void {
    if (bar === this.shown) return
    this.shown = bar
    this.now.forEach((e) => e.remove())
    this.now = []
    const b = this.boxes.get(bar)
    if (!b) return
    const wash = draw('rect', { x: b.left, y: b.top, width: b.right - b.left, height: b.low - b.top, rx: 60 }, 'now-bar')
    const foot = draw('line', { x1: b.left + 60, x2: b.right - 60, y1: b.low, y2: b.low }, 'now-foot')
    b.system.prepend(wash)
    b.system.append(foot)
    this.now = [wash, foot]
    if (follow) this.reveal(b.system)
  }

  /** Puts a bracket under chosen bars. */
  choose(bars: number[]): void {
    this.chosen.forEach((e) => e.remove())
    this.chosen = []
    const by = new Map<SVGGElement, { left: number; right: number; low: number }>()
    for (const i of bars) {
      const b = this.boxes.get(i)
      if (!b) continue
      const s = by.get(b.system) ?? { left: b.left, right: b.right, low: b.low }
      by.set(b.system, { left: Math.min(s.left, b.left), right: Math.max(s.right, b.right), low: b.low })
    }
    for (const [system, s] of by) {
      const path = document.createElementNS('http://www.w3.org/2000/svg', 'path')
      path.setAttribute('d', `M${s.left + 30} ${s.low + 20}v110H${s.right - 30}v-110`)
      path.setAttribute('class', 'chosen-bars')
      system.append(path)
      this.chosen.push(path)
    }
  }

  /** The bar under a tap; −1 none. */
  under(e: MouseEvent): number {
    for (const [i, b] of this.boxes) {
      const back = b.system.getScreenCTM()?.inverse()
      if (!back) continue
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(back)
      if (p.x >= b.left && p.x < b.right && p.y >= b.top - room && p.y <= b.low + room) return i
    }
    return -1
  }

  private reveal(g: Element): void {
    const box = g.getBoundingClientRect()
    if (box.top >= 0 && box.bottom <= innerHeight) return
    const calm = matchMedia('(prefers-reduced-motion: reduce)').matches
    g.scrollIntoView({ block: 'center', behavior: calm ? 'instant' : 'smooth' })
  }
}
