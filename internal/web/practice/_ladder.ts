// _ladder.ts is the rule of the steps: up after so many passes that went well in a row, down after two that did
// not. It keeps where a child is on this phone.

export interface Standing {
  rung: number
  well: number // in a row
  not: number // in a row
}

export type Turn = 'stays' | 'up' | 'arrived' | 'down' | 'lowest'

const mostNot = 2

/** What one pass makes of it. Clean 0: there is no ladder, and the tempo stays. */
export function after(at: Standing, well: boolean, rungs: number, clean: number): [Standing, Turn] {
  if (well) {
    const next = { rung: at.rung, well: at.well + 1, not: 0 }
    if (clean <= 0 || next.well < clean) return [next, 'stays']
    if (at.rung >= rungs - 1) return [{ ...next, well: 0 }, 'arrived']
    return [{ rung: at.rung + 1, well: 0, not: 0 }, 'up']
  }
  const next = { rung: at.rung, well: 0, not: at.not + 1 }
  if (clean <= 0 || next.not < mostNot) return [next, 'stays']
  if (at.rung === 0) return [{ rung: 0, well: 0, not: 0 }, 'lowest']
  return [{ rung: at.rung - 1, well: 0, not: 0 }, 'down']
}

/** What is kept on the phone: tempos rather than steps, since a new lesson may have other steps. */
export interface Kept {
  bpm: number
  well: number
  not: number
  at: string // RFC 3339
  day: string // of this phone, 2026-11-25
  before: number // the last tempo of the day before; 0 none
}

export const dayOf = (d: Date): string => `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, '0')}-${String(d.getDate()).padStart(2, '0')}`

const key = (of: string): string => `antiphon-practice-${of}`

export function kept(of: string): Kept | null {
  try {
    const k = JSON.parse(localStorage.getItem(key(of)) ?? 'null') as Kept | null
    return k && k.bpm > 0 ? k : null
  } catch {
    return null // a browser that keeps nothing
  }
}

export function keep(of: string, bpm: number, s: Standing, now: Date, before: Kept | null): Kept {
  const day = dayOf(now)
  const k: Kept = { bpm, well: s.well, not: s.not, at: now.toISOString(), day, before: before ? (before.day === day ? before.before : before.bpm) : 0 }
  try {
    localStorage.setItem(key(of), JSON.stringify(k))
  } catch {
    /* the next visit begins where the studio's log left off */
  }
  return k
}

/** The nearest step at or below a tempo. */
export function rungOf(bpm: number, rungs: number[]): number {
  let best = 0
  rungs.forEach((r, i) => {
    if (r <= bpm + 0.05) best = i
  })
  return best
}
