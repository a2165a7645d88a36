// _score.ts: where notes, bars and systems lie in the engraved music, the line that follows the sound, and
// what is pressed.
import type { Pass } from './_heard'

export interface System {
  g: SVGGElement
  left: number
  right: number
  top: number
  low: number
  room: number
  bars: Map<number, { left: number; first: number; right: number }>
}

interface Place {
  system: System
  x: number
}

interface Head extends Place {
  y: number
  r: number
  staff: number // from the top
}

const number = (e: Element, name: string): number => Number(e.getAttribute(name) ?? '0')

/** Lie knows the geometry of one engraved score, in the units of each system. */
export class Lie {
  readonly systems: System[] = []
  private readonly heads = new Map<string, Head>()

  constructor(
    readonly svg: SVGSVGElement,
    private readonly prefix: string,
  ) {
    for (const g of svg.querySelectorAll<SVGGElement>('g.system')) {
      const s: System = { g, left: number(g, 'data-left'), right: number(g, 'data-right'), top: number(g, 'data-top'), low: number(g, 'data-low'), room: number(g, 'data-room'), bars: new Map() }
      for (const m of g.querySelectorAll('[data-bar]')) {
        const left = number(m, 'data-left')
        const right = number(m, 'data-right')
        const first = m.hasAttribute('data-first') ? number(m, 'data-first') + 100 : left
        s.bars.set(number(m, 'data-bar'), { left, first, right })
      }
      this.systems.push(s)
      const back = g.getCTM()?.inverse()
      if (!back) continue
      for (const note of g.querySelectorAll<SVGGElement>('g.note[id]')) {
        const head = note.querySelector<SVGGraphicsElement>('.notehead') ?? note
        const m = head.getCTM()
        if (!m) continue
        const b = head.getBBox()
        const at = new DOMPoint(b.x + b.width / 2, b.y + b.height / 2).matrixTransform(back.multiply(m))
        const staff = note.closest('g.staff')
        const all = staff?.parentElement ? [...staff.parentElement.children].filter((e) => e.classList.contains('staff')) : []
        this.heads.set(note.id.slice(prefix.length), { system: s, x: at.x, y: at.y, r: Math.max(b.width, b.height) / 2, staff: staff ? all.indexOf(staff) : 0 })
      }
    }
  }

  element(id: string): SVGGElement | null {
    return this.svg.querySelector<SVGGElement>(`#${CSS.escape(this.prefix + id)}`)
  }

  idOf(note: Element): string {
    return note.id.slice(this.prefix.length)
  }

  headOf(id: string, system: System): Head | null {
    const h = this.heads.get(id)
    return h && h.system === system ? h : null
  }

  place(id: string): Place | null {
    return this.heads.get(id) ?? null
  }

  systemOf(bar: number): System | null {
    return this.systems.find((s) => s.bars.has(bar)) ?? null
  }
}

/** A place in the music with the moment at which it was played. */
export interface Step extends Place {
  s: number
}

/** Points of one pass in order of time: where the line stands when. */
export function wayOf(lie: Lie, pass: Pass): Step[] {
  const way: Step[] = []
  for (const bar of pass.bars) {
    const system = lie.systemOf(bar.index)
    const lies = system?.bars.get(bar.index)
    if (!system || !lies) continue
    const inside = bar.notes
      .filter((n) => n.v !== 'missed')
      .map((n) => ({ s: n.s, system, x: lie.place(n.id)?.x ?? lies.first }))
      .sort((a, b) => a.s - b.s)
    const points = [{ s: bar.from_s, system, x: lies.first }, ...inside, { s: bar.to_s - 0.001, system, x: lies.right }]
    for (const p of points) {
      const last = way[way.length - 1]
      if (last && (p.s <= last.s || (last.system === p.system && p.x < last.x && p.s - last.s < 0.12))) continue
      way.push(p)
    }
  }
  return way
}

export function onWay(way: Step[], s: number): Place | null {
  if (way.length === 0) return null
  let lo = 0
  let hi = way.length
  while (lo < hi) {
    const mid = (lo + hi) >> 1
    if (way[mid]!.s <= s) lo = mid + 1
    else hi = mid
  }
  const a = way[lo - 1] ?? way[0]!
  const b = way[lo]
  if (s > way[way.length - 1]!.s + 1.5 || s < way[0]!.s - 1.5) return null
  if (!b || b.system !== a.system || b.s <= a.s) return { system: a.system, x: a.x }
  const share = Math.max(0, Math.min(1, (s - a.s) / (b.s - a.s)))
  return { system: a.system, x: a.x + share * (b.x - a.x) }
}

/** The line over the staff, one element that moves from system to system. */
export class Line {
  private readonly line = document.createElementNS('http://www.w3.org/2000/svg', 'line')
  private at: System | null = null

  constructor() {
    this.line.setAttribute('class', 'now-line')
  }

  /** Shows it; true when it came to another system. */
  show(p: Place | null): boolean {
    if (!p) {
      this.line.remove()
      this.at = null
      return false
    }
    const x = String(Math.round(p.x))
    this.line.setAttribute('x1', x)
    this.line.setAttribute('x2', x)
    if (this.at === p.system && this.line.isConnected) return false
    this.at = p.system
    this.line.setAttribute('y1', String(p.system.top - 250))
    this.line.setAttribute('y2', String(p.system.low + p.system.room - 60))
    p.system.g.append(this.line)
    return true
  }
}
