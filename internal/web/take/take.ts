// take.ts brings the page of a take to life: the recording plays, the music follows it, what was heard is
// drawn under the staff, and a note, a bar or a finding is heard when it is pressed. Without it the page is
// complete to read and the recording has the browser's own controls.
import { say } from '../page/_say'
import type { SheetEvent } from '../sheet/sheet'
import { Deck } from './_deck'
import { barAt, clock, noteIn, passAt, passNamed, sayNote, soundingAt, strokeFrom, type Bar, type Heard, type Note, type Pass } from './_heard'
import { Music } from './_music'
import { Wave } from './_wave'
import { watchTake } from './_live'
import { mountRemarks } from './_remarks'
import { mountAgainst } from './_against'
import { mountCorrections } from './_correct'

/** What the parts of the page tell each other. */
export interface Stage {
  root: HTMLElement
  deck: Deck
  heard(): Heard | null
  pass(): Pass | null
  /** Where the listener is: the moment, the bar, and the note that was chosen last. */
  place(): { s: number; bar: Bar | null; note: Note | null }
  /** Shows a moment of this take in the music without playing it: the other take is there. */
  show(s: number): void
}

export function mount(root: HTMLElement): () => void {
  const media = root.querySelector<HTMLMediaElement>('[data-media]')
  if (!media) return watchTake(root, () => location.reload()) // nothing to play yet, so nothing is interrupted
  const deck = new Deck(media)
  const ends: (() => void)[] = []
  const find = <T extends HTMLElement>(what: string): T | null => root.querySelector<T>(what)
  const range = find<HTMLInputElement>('[data-range]')
  const where = find<HTMLOutputElement>('[data-where]')
  const chosen = find('[data-chosen]')
  const waveRoot = find('[data-wave]')
  const music = new Music(root)
  let heard: Heard | null = null
  let pass: Pass | null = null
  let held = false // the pass was chosen by hand: the sound does not change it
  let note: Note | null = null
  let shown = true // evidence
  let follow = true

  const length = (): number => heard?.duration_s || deck.duration || Number(root.dataset.duration) || 0
  const wave = waveRoot ? new Wave(waveRoot, null, length()) : null
  if (wave) ends.push(() => wave.stop())

  // ---- the pass that is shown

  function showPass(p: Pass | null): void {
    pass = p
    for (const b of root.querySelectorAll<HTMLElement>('[data-pass]')) b.setAttribute('aria-pressed', String(p !== null && Number(b.dataset.pass) === p.n))
    for (const l of root.querySelectorAll<HTMLElement>('[data-words-of]')) l.hidden = p !== null && Number(l.dataset.wordsOf) !== p.n
    music.show(heard, p, shown)
    step(deck.time)
  }

  // ---- the moment

  function step(s: number): void {
    if (range && document.activeElement !== range) range.value = String(s)
    else if (range && deck.playing) range.value = String(s)
    if (heard && deck.playing && !held) {
      const p = passAt(heard, s)
      if (p && p !== pass) showPass(p)
    }
    const bar = pass ? barAt(pass, s) : null
    const text = clock(s) + (bar ? `, bar ${bar.bar}` : '')
    if (where) where.value = `${clock(s)} of ${clock(length())}${bar ? ` · bar ${bar.bar}` : ''}`
    range?.setAttribute('aria-valuetext', text)
    music.at(s, pass, deck.playing && follow)
  }

  function tell(words: string, of: Note | null): void {
    note = of
    if (!chosen) return
    const p = chosen.querySelector('p')
    if (p) p.textContent = words
    chosen.classList.add('some')
    root.dispatchEvent(new CustomEvent('chosen'))
    music.mark('chosen-note', of ? [of.id] : [])
  }

  function goTo(s: number, play: boolean): void {
    deck.seek(s)
    if (play) deck.play()
    else step(s)
  }

  function pressNote(id: string): boolean {
    if (!heard || !pass) return false
    let found = noteIn(pass, id)
    if (!found) {
      const other = heard.passes.find((p) => noteIn(p, id))
      if (!other) return false
      showPass(other)
      found = noteIn(other, id)
    }
    if (!found || !pass) return false
    tell(sayNote(heard, pass, found.note, found.bar), found.note)
    const to = found.note.v === 'missed' ? found.note.s + 0.8 : Math.max(found.note.end_s, found.note.s + 0.4)
    deck.setSpan(Math.max(0, found.note.s - 0.06), to)
    deck.play(Math.max(0, found.note.s - 0.06))
    return true
  }

  function pressBar(bar: Bar, play = true): void {
    tell(bar.say, null)
    if (!play) {
      goTo(bar.from_s, false)
      return
    }
    deck.setSpan(Math.max(0, bar.from_s - 0.05), bar.to_s + 0.1)
    if (deck.again) deck.play(Math.max(0, bar.from_s - 0.05))
    else goTo(Math.max(0, bar.from_s - 0.05), true)
  }

  function pressScore(e: MouseEvent): void {
    const at = music.pressed(e, pass)
    if (at.note && pressNote(at.note)) return
    if (at.s !== undefined) goTo(Math.max(0, at.s - 0.3), true)
    else if (at.bar) pressBar(at.bar)
  }

  function barStep(by: 1 | -1): void {
    if (!pass) return
    const at = barAt(pass, deck.time)
    const i = at ? pass.bars.indexOf(at) : -1
    const bar = pass.bars[Math.max(0, Math.min(pass.bars.length - 1, i + by))]
    if (!bar) return
    pressBar(bar, deck.playing)
    music.revealBar(bar.index)
  }

  function noteStep(by: 1 | -1): void {
    const s = heard ? strokeFrom(heard, deck.time, by) : null
    goTo(s === null ? deck.time + by : Math.max(0, s + 0.005), false)
    if (heard && s !== null) {
      const p = passAt(heard, s)
      if (p && p !== pass) showPass(p)
      const n = pass ? soundingAt(pass, s + 0.01).find((x) => Math.abs(x.s - s) < 0.02) : null
      const found = pass && n ? noteIn(pass, n.id) : null
      if (pass && found) tell(sayNote(heard, pass, found.note, found.bar), found.note)
    }
  }

  // ---- findings

  function findings(): HTMLElement[] {
    return [...root.querySelectorAll<HTMLElement>('[data-finding]')]
  }

  function hear(f: HTMLElement): void {
    findings().forEach((x) => x.classList.toggle('at', x === f))
    const from = Number(f.dataset.from)
    const to = Number(f.dataset.to)
    if (heard) {
      const p = passAt(heard, from + 0.35)
      if (p) showPass(p)
    }
    const ids = (f.dataset.ids ?? '').split(' ').filter(Boolean)
    music.mark('meant', ids)
    if (ids[0]) music.revealNote(ids[0])
    deck.playSpan(from, to)
  }

  function findingStep(by: 1 | -1): void {
    const all = findings()
    const i = all.findIndex((f) => f.classList.contains('at'))
    const f = all[i < 0 ? (by > 0 ? 0 : all.length - 1) : Math.max(0, Math.min(all.length - 1, i + by))]
    if (!f) {
      say('There is no finding.')
      return
    }
    f.querySelector<HTMLElement>('[data-hear]')?.focus({ preventScroll: false })
    hear(f)
  }

  // ---- what is pressed

  const acts: Record<string, (el: HTMLElement) => void> = {
    play: () => deck.toggle(),
    back: () => noteStep(-1),
    on: () => noteStep(1),
    'bar-back': () => barStep(-1),
    'bar-on': () => barStep(1),
    again: (el) => {
      deck.again = el.getAttribute('aria-pressed') !== 'true'
      el.setAttribute('aria-pressed', String(deck.again))
      const bar = pass ? barAt(pass, deck.time) : null
      if (deck.again && !deck.hasSpan && bar) deck.setSpan(bar.from_s, bar.to_s)
    },
    speed: (el) => {
      deck.speed(Number(el.dataset.speed))
      root.querySelectorAll('[data-speed]').forEach((b) => b.setAttribute('aria-pressed', String(b === el)))
    },
    hear: (el) => {
      const f = el.closest<HTMLElement>('[data-finding]')
      if (f) hear(f)
    },
    'hear-at': (el) => {
      if (heard) {
        const p = passAt(heard, Number(el.dataset.s) + 0.3)
        if (p && p !== pass) showPass(p)
      }
      deck.playSpan(Number(el.dataset.s), Number(el.dataset.to ?? el.dataset.s) + 1)
    },
    'hear-chosen': () => {
      if (note) pressNote(note.id)
      else barStepHere()
    },
    'next-finding': () => findingStep(1),
    'last-finding': () => findingStep(-1),
    pass: (el) => {
      held = true
      const p = heard ? passNamed(heard, Number(el.dataset.pass)) : null
      showPass(p)
      if (p) goTo(Math.max(0, p.from_s - 0.3), deck.playing)
    },
    'next-pass': () => {
      if (!heard || heard.passes.length === 0) return
      held = true
      const i = pass ? heard.passes.indexOf(pass) : -1
      const p = heard.passes[(i + 1) % heard.passes.length] ?? null
      showPass(p)
      if (p) {
        goTo(Math.max(0, p.from_s - 0.3), deck.playing)
        say(p.say)
      }
    },
    evidence: (el) => {
      shown = el.getAttribute('aria-pressed') !== 'true'
      el.setAttribute('aria-pressed', String(shown))
      showPass(pass)
    },
    follow: (el) => {
      follow = el.getAttribute('aria-pressed') !== 'true'
      el.setAttribute('aria-pressed', String(follow))
    },
  }

  function barStepHere(): void {
    const bar = pass ? barAt(pass, deck.time) : null
    if (bar) pressBar(bar)
  }

  const pressed = (e: MouseEvent): void => {
    const el = e.target instanceof Element ? e.target.closest<HTMLElement>('[data-act]') : null
    if (el && root.contains(el)) acts[el.dataset.act ?? '']?.(el)
    else if (e.target instanceof Element && e.target.closest('.antiphon-score')) pressScore(e)
  }
  root.addEventListener('click', pressed)
  ends.push(() => root.removeEventListener('click', pressed))

  const spaceBar = (e: KeyboardEvent): void => {
    if (e.key !== ' ' || e.ctrlKey || e.metaKey || e.altKey || e.defaultPrevented || document.querySelector('dialog[open]')) return
    const at = e.target as HTMLElement
    if (at !== range && /^(INPUT|TEXTAREA|SELECT|BUTTON|A|SUMMARY|VIDEO|AUDIO)$/.test(at.tagName)) return
    e.preventDefault()
    deck.toggle()
  }
  document.addEventListener('keydown', spaceBar)
  ends.push(() => document.removeEventListener('keydown', spaceBar))

  range?.addEventListener('input', () => {
    const s = Number(range.value)
    deck.seek(s)
    if (!heard) return
    const p = passAt(heard, s)
    if (p && p !== pass) showPass(p)
    step(s)
    music.revealMoment(s)
    const bar = pass ? barAt(pass, s) : null
    const n = pass ? soundingAt(pass, s)[0] : undefined
    if (pass && n && bar) tell(sayNote(heard, pass, n, bar), n)
    else if (bar) tell(bar.say, null)
  })
  const play = find('[data-act="play"]')
  media.addEventListener('play', () => play && (play.textContent = 'Pause'))
  media.addEventListener('pause', () => play && (play.textContent = 'Play'))
  media.addEventListener('loadedmetadata', () => {
    if (range) range.max = String(length())
    wave?.show(heard, length())
  })
  media.addEventListener('unplayable', () => say('This browser cannot play the recording.'))
  deck.onTime((s) => step(s))

  // ---- the music and the hearing come when they come

  const put = (svg: SVGSVGElement): void => {
    music.set(svg)
    showPass(pass)
  }
  root.addEventListener('sheet', (e) => put((e as CustomEvent<SheetEvent>).detail.svg))
  const there = root.querySelector<SVGSVGElement>('.sheet .antiphon-score')
  if (there) put(there)

  async function fetchHeard(): Promise<void> {
    const answer = await fetch(root.dataset.heard ?? '', { headers: { Accept: 'application/json' } })
    if (!answer.ok) throw new Error(String(answer.status))
    heard = (await answer.json()) as Heard
    if (range) range.max = String(length())
    wave?.show(heard, length())
    showPass(passNamed(heard, pass?.n ?? heard.best) ?? passNamed(heard, heard.best))
    root.dataset.ready = 'yes'
  }
  const refresh = (): void => {
    fetchHeard().catch(() => say('What was heard could not be fetched. Load the page again.'))
  }
  refresh()
  root.addEventListener('renew', refresh)

  const stage: Stage = {
    show: (s) => {
      const p = heard ? passAt(heard, s) : null
      if (p && p !== pass) showPass(p)
      music.at(s, pass, follow)
    },
    root,
    deck,
    heard: () => heard,
    pass: () => pass,
    place: () => ({ s: deck.time, bar: pass ? barAt(pass, deck.time) : null, note }),
  }
  ends.push(watchTake(root, refresh), mountRemarks(stage), mountAgainst(stage), mountCorrections(stage))
  return () => ends.forEach((end) => end())
}
