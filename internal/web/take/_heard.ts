// _heard.ts: what the server says of a hearing (its schema is antiphon.evidence/1), and the way from a
// moment in the recording to a place in the music and back.

export interface Note {
  id: string
  v: 'right' | 'wrong' | 'missed'
  s: number
  end_s: number
  late_ms: number
  loud: number
  heard?: string
  doubt?: boolean
  sure: number
  marks?: string[]
}

export interface Added {
  after: string
  before: string
  at: number
  s: number
  heard: string
  doubt?: boolean
}

export interface Bar {
  index: number
  bar: string
  from_s: number
  to_s: number
  say: string
  notes: Note[]
  added: Added[]
}

export interface Pass {
  n: number
  from_bar: string
  to_bar: string
  from_s: number
  to_s: number
  say: string
  came: string
  bars: Bar[]
}

export interface Heard {
  hearing: string // its id, "" while there is none
  state: string // of the take
  duration_s: number
  names: Record<string, string> // of written notes, by id: "F♯4"
  best: number
  passes: Pass[]
}

export function clock(s: number): string {
  const t = Math.floor(Math.max(0, s))
  return `${Math.floor(t / 60)}:${String(t % 60).padStart(2, '0')}`
}

export function passNamed(h: Heard, n: number): Pass | null {
  return h.passes.find((p) => p.n === n) ?? null
}

/** The pass that sounds at a moment, or that ended last before it. */
export function passAt(h: Heard, s: number): Pass | null {
  let found: Pass | null = null
  for (const p of h.passes) if (p.from_s <= s + 0.3) found = p
  return found ?? h.passes[0] ?? null
}

/** The bar of a pass that sounds at a moment. */
export function barAt(p: Pass, s: number): Bar | null {
  let found: Bar | null = null
  for (const b of p.bars) if (b.from_s <= s + 0.02) found = b
  if (!found) return p.bars[0] && p.bars[0].from_s - s < 0.5 ? p.bars[0] : null
  return s <= Math.max(found.to_s, p.to_s) + 1.5 ? found : null
}

/** The written notes of a pass that sound at a moment. */
export function soundingAt(p: Pass, s: number): Note[] {
  const out: Note[] = []
  for (const b of p.bars) {
    if (b.from_s > s + 1) break
    for (const n of b.notes) if (n.v !== 'missed' && n.s <= s + 0.02 && s < Math.max(n.end_s, n.s + 0.12)) out.push(n)
  }
  return out
}

/** A written note in a pass, with its bar. */
export function noteIn(p: Pass, id: string): { note: Note; bar: Bar } | null {
  for (const bar of p.bars) for (const note of bar.notes) if (note.id === id) return { note, bar }
  return null
}

/** Moments of a pass at which notes were heard, in order. */
function strokes(h: Heard): number[] {
  return h.passes.flatMap((p) => p.bars.flatMap((b) => b.notes.filter((n) => n.v !== 'missed').map((n) => n.s))).sort((a, b) => a - b)
}

/** The next or the last stroke from a moment on; null at the ends. */
export function strokeFrom(h: Heard, s: number, step: 1 | -1): number | null {
  const all = strokes(h)
  return (step > 0 ? all.find((t) => t > s + 0.06) : all.findLast((t) => t < s - 0.06)) ?? null
}

/** What is known of one note, in words. */
export function sayNote(h: Heard, pass: Pass, n: Note, bar: Bar): string {
  const name = h.names[n.id] ?? 'A note'
  const perhaps = n.doubt ? 'perhaps ' : ''
  const place = `in bar ${bar.bar}`
  if (n.v === 'missed') return `${name} ${place}: ${perhaps}not heard.`
  const parts = [n.v === 'wrong' ? `${perhaps}heard as ${n.heard ?? 'another note'}` : `heard at ${clock(n.s)}`]
  const late = Math.abs(n.late_ms)
  if (late >= 25) parts.push(`${late >= 60 ? 'plainly' : 'a little'} ${n.late_ms < 0 ? 'early' : 'late'} (${Math.round(late)} thousandths of a second)`)
  for (const m of n.marks ?? []) parts.push(m === 'buzz' ? 'it may buzz' : m === 'muted' ? 'it may be muted' : m === 'choked' ? 'it may be choked off' : 'a squeak before it')
  return `${name} ${place}${h.passes.length > 1 ? `, pass ${pass.n}` : ''}: ${parts.join(', ')}.`
}
