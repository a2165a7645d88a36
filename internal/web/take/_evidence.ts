// _evidence.ts draws what was heard under the staff, in the room that the engraver kept free: a dot early
// or late of its stem on a thin thread, a ribbon as wide as the sound was loud, a dashed ring round a note
// that was not heard, and the name of what was heard in its place. Shape and place say it; colour repeats it.
import { sayNote, type Heard, type Note, type Pass } from './_heard'
import type { Lie, System } from './_score'

const space = 180 // units of the drawing in one staff space
const threadAt = 1.9 * space // below the lowest ink of the system; one thread for each staff
const nextThread = 1.7 * space
const nameAt = 2.1 * space // below the last thread
const ribbonAt = 4.3 * space // below it, too
const dot = 0.32 * space
const lateScale = 1.4 * space // for a tenth of a second
const lateMost = 1.7 * space
const onTimeMs = 15 // nearer than this is drawn on the stem
const thinnest = 0.07 * space
const thickest = 0.75 * space
const soft = 0.25 // of the server's 0 to 1, drawn thinnest; most playing lies between this and loud
const loud = 0.75

function el(name: string, attrs: Record<string, string | number>, ...kids: Node[]): SVGElement {
  const e = document.createElementNS('http://www.w3.org/2000/svg', name)
  for (const [k, v] of Object.entries(attrs)) e.setAttribute(k, typeof v === 'number' ? String(Math.round(v)) : v)
  e.append(...kids)
  return e
}

function told(words: string): SVGElement {
  const t = el('title', {})
  t.textContent = words
  return t
}

const round = Math.round

/** Draws one pass. Everything it draws stands in groups of class "evidence", which it replaces. */
export function drawEvidence(lie: Lie, heard: Heard, pass: Pass): void {
  clearEvidence(lie)
  for (const system of lie.systems) {
    const layer = drawn(lie, system, heard, pass)
    if (layer) system.g.append(layer)
  }
}

export function clearEvidence(lie: Lie): void {
  for (const s of lie.systems) s.g.querySelectorAll(':scope > .evidence').forEach((e) => e.remove())
}

interface Name {
  x: number
  text: string
  kind: string
}

interface Shown {
  n: Note
  x: number
  y: number // of its thread
  say: string
}

function drawn(lie: Lie, system: System, heard: Heard, pass: Pass): SVGElement | null {
  const bars = pass.bars.filter((b) => system.bars.has(b.index))
  const staves = [...new Set(bars.flatMap((b) => b.notes.map((n) => lie.headOf(n.id, system)?.staff ?? 0)))].sort()
  const threads = staves.map((_, i) => system.low + threadAt + i * nextThread)
  const lowest = threads[threads.length - 1] ?? 0
  const here: Shown[] = []
  for (const b of bars) {
    for (const n of b.notes) {
      const head = lie.headOf(n.id, system)
      if (head) here.push({ n, x: head.x, y: threads[staves.indexOf(head.staff)] ?? lowest, say: sayNote(heard, pass, n, b) })
    }
  }
  if (here.length === 0) return null
  here.sort((a, b) => a.x - b.x)
  const layer = el('g', { class: 'evidence' })
  const right = Math.max(...bars.map((b) => system.bars.get(b.index)?.right ?? 0))
  for (const y of threads) layer.append(el('path', { class: 'thread', d: `M${round(here[0]!.x - space)} ${y}H${round(right)}` }))
  for (const b of bars) {
    const x = round(system.bars.get(b.index)!.right)
    layer.append(el('path', { class: 'rule', d: `M${x} ${threads[0]! - 0.6 * space}V${lowest + ribbonAt + 0.8 * space}` }))
  }
  layer.append(...ribbon(here, lowest + ribbonAt))
  const names: Name[] = []
  for (const shown of here) layer.append(mark(lie, system, shown, here, names))
  for (const b of bars) {
    const lies = system.bars.get(b.index)!
    for (const a of b.added) {
      const after = a.after ? lie.headOf(a.after, system) : null
      const before = a.before ? lie.headOf(a.before, system) : null
      const from = after?.x ?? lies.first
      const x = from + a.at * ((before?.x ?? lies.right) - from)
      const y = threads[staves.indexOf((after ?? before)?.staff ?? -1)] ?? lowest
      const r = dot * 1.4
      const g = el('g', { class: `added${a.doubt ? ' doubt' : ''}`, 'data-s': String(a.s) }, told(`An added ${a.heard} in bar ${b.bar}.`))
      g.append(el('path', { class: 'point', d: `M${round(x)} ${round(y - r)}v${round(2 * r)}M${round(x - r)} ${y}h${round(2 * r)}` }))
      layer.append(g)
      names.push({ x, text: a.heard, kind: 'added' })
    }
  }
  layer.append(...written(names, lowest + nameAt))
  return layer
}

/** One written note on its thread. */
function mark(lie: Lie, system: System, { n, x, y, say }: Shown, here: Shown[], names: Name[]): SVGElement {
  const g = el('g', { class: `${n.v}${n.doubt ? ' doubt' : ''}`, 'data-s': String(n.s), 'data-of': n.id }, told(say))
  g.append(el('path', { class: 'stem', d: `M${round(x)} ${y - 0.6 * space}V${y + 0.6 * space}` }))
  if (n.v === 'missed') {
    const head = lie.headOf(n.id, system)
    g.append(el('circle', { class: 'ring', cx: x, cy: y, r: dot * 1.6 }))
    if (head) g.append(el('circle', { class: 'ring', cx: head.x, cy: head.y, r: head.r + 0.42 * space }))
    return g
  }
  const off = offset(n, x, here)
  if (Math.abs(off) > dot) g.append(el('path', { class: 'link', d: `M${round(x)} ${y}H${round(x + off)}` }))
  if (n.v === 'wrong') {
    const r = round(dot * 1.6)
    g.append(el('path', { class: 'point', d: `M${round(x + off)} ${y - r}l${r} ${r}l${-r} ${r}l${-r} ${-r}Z` }))
    names.push({ x, text: n.heard ?? '?', kind: 'wrong' })
  } else g.append(el('circle', { class: 'point', cx: x + off, cy: y, r: dot }))
  return g
}

/** How far from its stem a dot lies: never so far that it stands nearer to another one. */
function offset(n: Note, x: number, here: { x: number }[]): number {
  if (Math.abs(n.late_ms) < onTimeMs) return 0
  let gap = lateMost
  for (const o of here) {
    const d = Math.abs(o.x - x)
    if (d > space * 0.5) gap = Math.min(gap, 0.45 * d)
  }
  return Math.max(-gap, Math.min(gap, (n.late_ms / 100) * lateScale))
}

/** Names that would touch go one line lower in turn. */
function written(names: Name[], y: number): SVGElement[] {
  names.sort((a, b) => a.x - b.x)
  let end = -Infinity
  let low = false
  return names.map(({ x, text, kind }) => {
    const half = text.length * 0.46 * space
    low = x - half < end ? !low : false
    end = x + half + 0.3 * space
    const t = el('text', { class: `name ${kind}`, x, y: y + (low ? 1.25 * space : 0), 'font-size': 1.5 * space, 'text-anchor': 'middle' })
    t.textContent = text
    return t
  })
}

/** The ribbon of loudness through the notes of one system, one width for what sounds together. */
function ribbon(here: { n: Note; x: number }[], y: number): SVGElement[] {
  const points: { x: number; half: number }[] = []
  for (const { n, x } of here) {
    if (n.v === 'missed') continue
    const share = Math.max(0, Math.min(1, (n.loud - soft) / (loud - soft)))
    const half = thinnest + share * (thickest - thinnest)
    const last = points[points.length - 1]
    if (last && x - last.x < 0.3 * space) last.half = Math.max(last.half, half)
    else points.push({ x, half })
  }
  if (points.length < 2) return []
  const up = points.map((p) => `${round(p.x)} ${round(y - p.half)}`)
  const down = points.map((p) => `${round(p.x)} ${round(y + p.half)}`).reverse()
  return [el('path', { class: 'ribbon', d: `M${up.join('L')}L${down.join('L')}Z` })]
}
