// _against.ts: this take and another one in musical time: one key goes to the same place of the music in
// the other recording, and the same moment of two videos stands side by side.
import { say } from '../page/_say'
import { clock } from './_heard'
import type { Stage } from './take'

// The server's comparison (antiphon.comparison/1): a is the other take, b is this one.
interface Side {
  pass: number // the one that the bars are of
  lines: { n: number; q: number[]; s: number[] }[] // places of the score in quarters, and their seconds
}

interface Against {
  a: Side
  b: Side
  bars: { bar: string; a_s: number | null; a_end_s: number | null; b_s: number | null; b_end_s: number | null }[]
}

function between(xs: number[], ys: number[], x: number): number {
  const n = xs.length
  if (n === 1) return ys[0]! + (x - xs[0]!)
  let i = xs.findIndex((v) => v > x)
  if (i < 0) i = n - 1
  if (i === 0) i = 1
  const width = xs[i]! - xs[i - 1]!
  return width > 0 ? ys[i - 1]! + ((x - xs[i - 1]!) / width) * (ys[i]! - ys[i - 1]!) : ys[i]!
}

/** The line of a side that holds a value, the side's own first; else the one that comes nearest. */
function lineFor(side: Side, of: 'q' | 's', v: number): Side['lines'][number] | null {
  const off = (l: Side['lines'][number]): number => {
    const xs = l[of]
    const out = Math.max(xs[0]! - v, v - xs[xs.length - 1]!, 0)
    return out + (l.n === side.pass ? 0 : 0.001)
  }
  const all = side.lines.filter((l) => l.q.length > 0)
  return all.length ? all.reduce((best, l) => (off(l) < off(best) ? l : best)) : null
}

/** The second in one take at which the music stands where it stands in the other. */
export function across(from: Side, to: Side, s: number): number | null {
  const here = lineFor(from, 's', s)
  if (!here) return null
  const q = between(here.s, here.q, s)
  const there = lineFor(to, 'q', q)
  return there ? Math.max(0, between(there.q, there.s, q)) : null
}

export function mountAgainst(stage: Stage): () => void {
  const { root, deck } = stage
  let data: Against | null = null
  let fetched = ''
  let onOther = false
  let stopAt = Infinity

  const section = (): HTMLElement | null => root.querySelector('[data-against]')
  const other = (): HTMLMediaElement | null => root.querySelector('[data-other]')

  async function load(): Promise<Against | null> {
    const address = section()?.dataset.against
    if (!address) return null
    if (data && fetched === address) return data
    const answer = await fetch(address, { headers: { Accept: 'application/json' } })
    if (!answer.ok) throw new Error(String(answer.status))
    data = (await answer.json()) as Against
    fetched = address
    const m = other()
    if (m) {
      m.preservesPitch = true
      const along = (): void => {
        if (m.currentTime >= stopAt) m.pause()
        const s = data ? across(data.a, data.b, m.currentTime) : null
        if (s !== null) stage.show(s)
        if (!m.paused) requestAnimationFrame(along)
      }
      m.addEventListener('play', along)
    }
    return data
  }

  function show(): void {
    root.querySelectorAll('[data-side]').forEach((e) => e.setAttribute('aria-pressed', String((e as HTMLElement).dataset.side === (onOther ? 'b' : 'a'))))
  }

  /** Goes over to the other recording at the same place of the music. */
  async function swap(to: boolean): Promise<void> {
    const d = await load()
    const m = other()
    if (!d || !m) {
      say('Choose another take to compare with, first.')
      return
    }
    if (to === onOther) return
    const playing = onOther ? !m.paused : deck.playing
    const s = onOther ? across(d.a, d.b, m.currentTime) : across(d.b, d.a, deck.time)
    stopAt = Infinity
    if (s === null) {
      say('The two takes have no bar in common.')
      return
    }
    onOther = to
    show()
    if (to) {
      deck.pause()
      m.currentTime = s
      m.playbackRate = deck.media.playbackRate
      if (playing) await m.play()
    } else {
      m.pause()
      deck.seek(s)
      if (playing) deck.play()
    }
    say(to ? `The other take, at ${clock(s)}.` : `This take, at ${clock(s)}.`)
  }

  /** One bar in both, one after the other. */
  async function both(label: string): Promise<void> {
    const d = await load()
    const m = other()
    const bar = d?.bars.find((b) => b.bar === label)
    if (!m || !bar || bar.b_s === null || bar.a_s === null) {
      say('This bar was not played in both.')
      return
    }
    onOther = false
    show()
    m.pause()
    deck.again = false
    const [from, to, otherFrom, otherTo] = [bar.b_s, bar.b_end_s ?? bar.b_s + 2, bar.a_s, bar.a_end_s ?? bar.a_s + 2]
    deck.setSpan(from, to)
    deck.play(from)
    const then = (): void => {
      if (deck.time < to - 0.25) return
      onOther = true
      show()
      stopAt = otherTo
      m.currentTime = Math.max(0, otherFrom)
      m.playbackRate = deck.media.playbackRate
      m.play().catch((e: unknown) => {
        if (!(e instanceof DOMException && e.name === 'AbortError')) say('The other recording cannot be played here.')
      })
    }
    deck.media.addEventListener('pause', then, { once: true })
  }

  async function pictures(): Promise<void> {
    const d = await load()
    const m = other()
    const board = root.querySelector<HTMLElement>('[data-two-pictures]')
    if (!d || !board || !(m instanceof HTMLVideoElement) || !(deck.media instanceof HTMLVideoElement)) {
      say('Both takes need a picture for this.')
      return
    }
    deck.pause()
    m.pause()
    const s = across(d.b, d.a, deck.time)
    if (s === null) return
    await seeked(m, s)
    board.replaceChildren(still(deck.media, `This take, ${clock(deck.time)}`), still(m, `The other, ${clock(s)}`))
    board.hidden = false
  }

  const click = (e: MouseEvent): void => {
    const el = e.target instanceof Element ? e.target.closest<HTMLElement>('[data-side],[data-both],[data-do]') : null
    if (!el) return
    const failed = (): void => say('The other take could not be fetched. Load the page again.')
    if (el.dataset.side) swap(el.dataset.side === 'b').catch(failed)
    else if (el.dataset.both !== undefined) both(el.dataset.both || (stage.place().bar?.bar ?? '')).catch(failed)
    else if (el.dataset.do === 'swap') swap(!onOther).catch(failed)
    else if (el.dataset.do === 'pictures') pictures().catch(failed)
  }
  root.addEventListener('click', click)
  // Whoever plays this take while the other sounds wants to hear only one.
  deck.media.addEventListener('play', () => {
    if (!other()?.paused) other()?.pause()
    onOther = false
    show()
  })
  return () => {
    root.removeEventListener('click', click)
  }
}

function seeked(m: HTMLMediaElement, s: number): Promise<void> {
  return new Promise((done) => {
    m.addEventListener('seeked', () => done(), { once: true })
    m.currentTime = s
  })
}

function still(v: HTMLVideoElement, words: string): HTMLElement {
  const figure = document.createElement('figure')
  const canvas = document.createElement('canvas')
  canvas.width = v.videoWidth
  canvas.height = v.videoHeight
  canvas.getContext('2d')?.drawImage(v, 0, 0)
  canvas.setAttribute('role', 'img')
  canvas.setAttribute('aria-label', words)
  const caption = document.createElement('figcaption')
  caption.textContent = words
  figure.append(canvas, caption)
  return figure
}
