// _music.ts: the engraved music of the page with what was heard under it, the line that follows the sound,
// and the way from a press to a note or a bar.
import { clearEvidence, drawEvidence } from './_evidence'
import { soundingAt, type Bar, type Heard, type Pass } from './_heard'
import { Lie, Line, onWay, wayOf, type Step, type System } from './_score'

const seenAbove = 90 // px that the top line of the page covers

export class Music {
  private lie: Lie | null = null
  private way: Step[] = []
  private lit: Element[] = []
  private readonly line = new Line()

  constructor(private readonly root: HTMLElement) {}

  /** Takes music that was put into the page. */
  set(svg: SVGSVGElement): void {
    this.lie = new Lie(svg, svg.closest<HTMLElement>('.sheet')?.dataset.prefix ?? '')
    this.lit = []
  }

  /** Draws what was heard in a pass, or leaves the music alone. */
  show(heard: Heard | null, pass: Pass | null, evidence: boolean): void {
    if (!this.lie) return
    this.way = pass ? wayOf(this.lie, pass) : []
    if (heard && pass && evidence) drawEvidence(this.lie, heard, pass)
    else clearEvidence(this.lie)
  }

  /** Sets the line to a moment and lights the notes that sound. With follow the system is kept in view. */
  at(s: number, pass: Pass | null, follow: boolean): void {
    if (!this.lie) return
    const p = onWay(this.way, s)
    if (this.line.show(p) && p && follow) this.reveal(p.system.g)
    const now = pass ? soundingAt(pass, s).map((n) => this.element(n.id)).filter((e) => e !== null) : []
    if (now.length === this.lit.length && now.every((e, i) => e === this.lit[i])) return
    this.lit.forEach((e) => e.classList.remove('now'))
    now.forEach((e) => e.classList.add('now'))
    this.lit = now
  }

  element(id: string): SVGGElement | null {
    return this.lie?.element(id) ?? null
  }

  /** Marks notes with a class, and takes it from all others. */
  mark(className: string, ids: string[]): void {
    this.root.querySelectorAll(`.antiphon-score .${className}`).forEach((e) => e.classList.remove(className))
    for (const id of ids) this.element(id)?.classList.add(className)
  }

  /** The note, or the moment of an added one, or the bar of a pass that was pressed. */
  pressed(e: MouseEvent, pass: Pass | null): { note?: string; s?: number; bar?: Bar } {
    const lie = this.lie
    const target = e.target
    if (!lie || !(target instanceof Element)) return {}
    const head = target.closest('g.note, [data-of]')
    if (head) return { note: head instanceof SVGElement && head.dataset.of ? head.dataset.of : lie.idOf(head) }
    const added = target.closest<SVGElement>('.added[data-s]')
    if (added) return { s: Number(added.dataset.s) }
    const bar = pass ? barUnder(lie, e, pass) : undefined
    return bar ? { bar } : {}
  }

  /** Brings the place of a moment, of a bar or of a note into view although it was out of sight. */
  revealMoment(s: number): void {
    const g = onWay(this.way, s)?.system.g
    if (g) this.reveal(g, true)
  }

  revealBar(index: number): void {
    const g = this.lie?.systemOf(index)?.g
    if (g) this.reveal(g, true)
  }

  revealNote(id: string): void {
    const g = this.element(id)?.closest('g.system')
    if (g) this.reveal(g)
  }

  /** Brings a system of the score into view, if it is not. Who reads elsewhere on the page is left there. */
  private reveal(g: Element, asked = false): void {
    const box = g.getBoundingClientRect()
    const foot = this.root.querySelector('[data-player]')?.getBoundingClientRect().top ?? innerHeight
    const sheet = g.closest('.sheet')?.getBoundingClientRect()
    if (!asked && sheet && (sheet.bottom < seenAbove || sheet.top > foot)) return
    if (box.top >= seenAbove && box.bottom <= foot) return
    const calm = matchMedia('(prefers-reduced-motion: reduce)').matches
    window.scrollBy({ top: box.top - seenAbove - 20, behavior: calm ? 'instant' : 'smooth' })
  }
}

function barUnder(lie: Lie, e: MouseEvent, pass: Pass): Bar | undefined {
  const inside = (s: System): boolean => {
    const b = s.g.getBoundingClientRect()
    return e.clientY >= b.top && e.clientY <= b.bottom
  }
  const system = lie.systems.find((s) => s.g.contains(e.target as Node)) ?? lie.systems.find(inside)
  const back = system?.g.getScreenCTM()?.inverse()
  if (!system || !back) return undefined
  const x = new DOMPoint(e.clientX, e.clientY).matrixTransform(back).x
  for (const [index, b] of system.bars) {
    if (x >= b.left && x < b.right) return pass.bars.find((p) => p.index === index)
  }
  return undefined
}
