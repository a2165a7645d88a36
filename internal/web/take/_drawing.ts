// _drawing.ts: lines, arrows and angles over one frozen picture of a video. Each end is a handle that is
// dragged, or moved by the arrow keys. Places are shares of the picture's width and height.

export type ShapeKind = 'line' | 'arrow' | 'angle'
type Point = [number, number]

export interface Shape {
  kind: ShapeKind
  p: Point[] // two ends; of an angle an end, the corner and the other end
}

export interface Drawn {
  w: number // of the picture in pixels: it gives the angles
  h: number
  shapes: Shape[]
}

const svgName = 'http://www.w3.org/2000/svg'

function el(name: string, attrs: Record<string, string | number> = {}): SVGElement {
  const e = document.createElementNS(svgName, name)
  for (const [k, v] of Object.entries(attrs)) e.setAttribute(k, typeof v === 'number' ? v.toFixed(1) : v)
  return e
}

/** Degrees at the corner of an angle, 0 to 180. */
export function degrees(p: Point[], w: number, h: number): number {
  const [a, b, c] = p
  if (!a || !b || !c) return 0
  const u = [(a[0] - b[0]) * w, (a[1] - b[1]) * h] as const
  const v = [(c[0] - b[0]) * w, (c[1] - b[1]) * h] as const
  const cross = u[0] * v[1] - u[1] * v[0]
  const dot = u[0] * v[0] + u[1] * v[1]
  return Math.abs((Math.atan2(cross, dot) * 180) / Math.PI)
}

/** The drawing for who does not see it. */
export function inWords(d: Drawn): string {
  const parts = d.shapes.map((s) => (s.kind === 'angle' ? `an angle of ${Math.round(degrees(s.p, d.w, d.h))}°` : s.kind === 'arrow' ? 'an arrow' : 'a line'))
  return parts.length ? `Drawn on the picture: ${parts.join(', ')}.` : 'Nothing is drawn on the picture.'
}

const names: Record<ShapeKind, string[]> = {
  line: ['one end', 'other end'],
  arrow: ['tail', 'point'],
  angle: ['one side', 'corner', 'other side'],
}

/** What came from the server, or nothing where it makes no sense. */
export function readDrawn(text: string | undefined): Drawn | null {
  if (!text) return null
  try {
    const d = JSON.parse(text) as Drawn
    if (!(d.w > 0 && d.h > 0) || !Array.isArray(d.shapes)) return null
    d.shapes = d.shapes.filter((s) => s.kind in names && s.p.length === names[s.kind].length && s.p.every((q) => q.length === 2 && q.every(Number.isFinite)))
    return d
  } catch {
    return null
  }
}

export class Drawing {
  readonly svg: SVGSVGElement
  constructor(
    readonly drawn: Drawn,
    private readonly editable: boolean,
    private readonly changed: () => void = () => undefined,
  ) {
    this.svg = document.createElementNS(svgName, 'svg')
    this.svg.setAttribute('viewBox', `0 0 ${drawn.w} ${drawn.h}`)
    this.svg.setAttribute('class', 'drawing')
    this.draw()
  }

  add(kind: ShapeKind): void {
    const step = 0.06 * (this.drawn.shapes.length % 4)
    const p: Point[] = kind === 'angle' ? [[0.3, 0.35 + step], [0.5, 0.6 + step], [0.7, 0.35 + step]] : [[0.35, 0.4 + step], [0.65, 0.55 + step]]
    this.drawn.shapes.push({ kind, p })
    this.draw()
    this.handle(this.drawn.shapes.length - 1, 0)?.focus()
    this.changed()
  }

  private handle(shape: number, point: number): SVGElement | null {
    return this.svg.querySelector(`[data-handle="${shape} ${point}"]`)
  }

  draw(): void {
    const { w, h, shapes } = this.drawn
    const held = document.activeElement instanceof SVGElement ? document.activeElement.dataset.handle : undefined
    this.svg.replaceChildren()
    const unit = Math.max(w, h) / 100
    if (!this.editable) {
      this.svg.setAttribute('role', 'img')
      this.svg.setAttribute('aria-label', inWords(this.drawn))
    }
    shapes.forEach((s, i) => {
      const at = s.p.map((q) => [q[0] * w, q[1] * h] as const)
      const d = `M${at.map((q) => `${q[0].toFixed(1)} ${q[1].toFixed(1)}`).join('L')}`
      this.svg.append(el('path', { class: 'under', d, 'stroke-width': unit * 1.1 }), el('path', { class: 'over', d, 'stroke-width': unit * 0.5 }))
      const a = at[0]!
      const b = at[1]!
      if (s.kind === 'arrow') {
        const turn = Math.atan2(b[1] - a[1], b[0] - a[0])
        const wing = (by: number) => `${(b[0] - unit * 3 * Math.cos(turn + by)).toFixed(1)} ${(b[1] - unit * 3 * Math.sin(turn + by)).toFixed(1)}`
        const head = `M${wing(0.5)}L${b[0].toFixed(1)} ${b[1].toFixed(1)}L${wing(-0.5)}`
        this.svg.append(el('path', { class: 'under', d: head, 'stroke-width': unit * 1.1 }), el('path', { class: 'over', d: head, 'stroke-width': unit * 0.5 }))
      }
      if (s.kind === 'angle') {
        const t = el('text', { x: b[0] + unit * 2, y: b[1] + unit * 4.5, 'font-size': unit * 4, 'stroke-width': unit * 0.8 })
        t.textContent = `${Math.round(degrees(s.p, w, h))}°`
        this.svg.append(t)
      }
      if (this.editable) s.p.forEach((q, k) => this.svg.append(this.handleFor(i, k, q, unit)))
    })
    if (held) this.svg.querySelector<SVGElement>(`[data-handle="${held}"]`)?.focus()
  }

  private handleFor(shape: number, point: number, q: Point, unit: number): SVGElement {
    const { w, h } = this.drawn
    const s = this.drawn.shapes[shape]!
    const c = el('circle', { class: 'handle', cx: q[0] * w, cy: q[1] * h, r: unit * 1.7, tabindex: '0', role: 'button', 'data-handle': `${shape} ${point}` })
    const angle = s.kind === 'angle' ? `, ${Math.round(degrees(s.p, w, h))} degrees` : ''
    c.setAttribute('aria-label', `${s.kind} ${shape + 1}, ${names[s.kind][point]}${angle}. Arrow keys move it, Delete takes the ${s.kind} away.`)
    c.addEventListener('keydown', (e) => this.key(e, shape, point))
    c.addEventListener('pointerdown', (e) => {
      e.preventDefault()
      c.focus()
      const move = (m: PointerEvent): void => {
        const box = this.svg.getBoundingClientRect()
        this.move(shape, point, (m.clientX - box.left) / box.width, (m.clientY - box.top) / box.height)
      }
      const up = (): void => {
        window.removeEventListener('pointermove', move)
        window.removeEventListener('pointerup', up)
        this.changed()
      }
      window.addEventListener('pointermove', move)
      window.addEventListener('pointerup', up)
    })
    return c
  }

  private key(e: KeyboardEvent, shape: number, point: number): void {
    const by = e.shiftKey ? 0.05 : 0.01
    const step = ({ ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, -by], ArrowDown: [0, by] } as Record<string, [number, number]>)[e.key]
    if (step) {
      e.preventDefault()
      const q = this.drawn.shapes[shape]!.p[point]!
      this.move(shape, point, q[0] + step[0], q[1] + step[1])
      this.changed()
    } else if (e.key === 'Delete' || e.key === 'Backspace') {
      e.preventDefault()
      this.drawn.shapes.splice(shape, 1)
      this.draw()
      this.changed()
    }
  }

  private move(shape: number, point: number, x: number, y: number): void {
    const q = this.drawn.shapes[shape]?.p[point]
    if (!q) return
    q[0] = Math.max(0, Math.min(1, x))
    q[1] = Math.max(0, Math.min(1, y))
    this.draw()
  }
}
