// play-along.ts: <div data-island="play-along" data-plan="…">: hear it, play along with a count-in and a click,
// one bar again and again, and the steps of a ladder. What went well is tapped by the people who heard it; the
// tool counts the taps and judges nothing.

import { log } from '../week/_log'
import { Band, decoded, type Line, type Pass, type Tune } from './_band'
import { after, keep, kept, rungOf, dayOf, type Standing, type Turn } from './_ladder'
import { Loops } from './_loops'
import { loudness } from './_loud'
import { Marks } from './_marks'

interface Rung {
  bpm: number
  pace: string
  sound?: string
  second?: string
}

interface Plan {
  student: string
  of: string
  beat: number
  rungs: Rung[]
  begin: number
  clean: number
  reached?: { bpm: number; at: string }
  line: Line
  second?: string
  byTool?: boolean
  minutes: number
}

type Words = Record<string, string>

const aheadS = 4 // laid out before it sounds
const marginS = 0.12 // between the tap and the first click
const moreMinutes = 3
const tries = 8 // while a sound is being made

class Refused extends Error {}

class PlayAlong {
  private readonly plan: Plan
  private readonly words: Words
  private readonly marks = new Marks()
  private readonly loops: Loops
  private ctx?: AudioContext
  private master?: AudioNode
  private band: Band | null = null
  private mode: 'play' | 'hear' = 'play'
  private at: Standing
  private before = 0 // tempo of the last day; 0 none
  private from = 0
  private to: number
  private tunes = new Map<string, Promise<Tune>>()
  private coming = 0
  private begun = 0
  private playedS = 0
  private restS: number
  private lock: { release(): Promise<void> } | undefined
  private readonly loud: ReturnType<typeof loudness>

  private readonly ready: string // what stands there while nothing sounds

  constructor(private readonly root: HTMLElement) {
    this.ready = this.one('[data-state]')?.textContent ?? ''
    this.plan = JSON.parse(root.dataset.plan ?? '{}') as Plan
    this.words = JSON.parse(root.dataset.words ?? '{}') as Words
    this.restS = this.plan.minutes * 60
    this.to = Math.max(0, this.plan.line.bars.length - 1)
    this.at = this.standing()
    this.loud = loudness(root, () => this.level())
    this.loops = new Loops(root, (s) => this.say(s), this.words, () => this.context())
    root.addEventListener('click', (e) => this.clicked(e))
    root.addEventListener('sheet', (e) => this.music((e as CustomEvent<{ svg: SVGSVGElement }>).detail.svg))
    const svg = root.querySelector<SVGSVGElement>('.sheet svg')
    if (svg) this.music(svg)
    this.fillBars()
    this.showSteps()
    this.sayWay('stays')
  }

  private one<T extends HTMLElement>(selector: string): T | null {
    return this.root.querySelector<T>(selector)
  }

  private text(key: string, blanks: Record<string, string | number> = {}): string {
    return (this.words[key] ?? '').replace(/\{([a-z]+)\}/g, (_, name: string) => String(blanks[name] ?? ''))
  }

  private say(words: string): void {
    const e = this.one('[data-state]')
    if (e) e.textContent = words
  }

  /** Where the child is: on this phone, or in the studio's log if that is newer. */
  private standing(): Standing {
    const here = kept(this.plan.of)
    const there = this.plan.reached
    const rungs = this.plan.rungs.map((r) => r.bpm)
    const today = dayOf(new Date())
    if (there && (!here || Date.parse(there.at) > Date.parse(here.at))) {
      if (dayOf(new Date(there.at)) !== today) this.before = there.bpm
      return { rung: rungOf(there.bpm, rungs), well: 0, not: 0 }
    }
    if (!here) return { rung: this.plan.begin, well: 0, not: 0 }
    this.before = here.day === today ? here.before : here.bpm
    const same = here.day === today
    return { rung: rungOf(here.bpm, rungs), well: same ? here.well : 0, not: same ? here.not : 0 }
  }

  private get rung(): Rung {
    return this.plan.rungs[this.at.rung] ?? { bpm: 60, pace: '' }
  }

  private clicked(e: MouseEvent): void {
    if (!(e.target instanceof Element)) return
    const what = e.target.closest<HTMLElement>('[data-do]')?.dataset.do
    const acts: Record<string, () => void> = {
      play: () => void this.start('play'),
      hear: () => void this.start('hear'),
      stop: () => this.stop(),
      well: () => this.went(true),
      not: () => this.went(false),
      slower: () => this.step(-1),
      faster: () => this.step(1),
      whole: () => this.choose(0, this.plan.line.bars.length - 1, false),
      hurt: () => this.hurt(),
      done: () => this.done(),
      more: () => this.more(),
    }
    if (what) acts[what]?.()
    else if (e.target.closest('.sheet svg')) this.tapped(this.marks.under(e))
  }

  private context(): AudioContext {
    if (this.ctx) return this.ctx
    try {
      this.ctx = new AudioContext({ sampleRate: 48000, latencyHint: 'interactive' })
    } catch {
      this.ctx = new AudioContext()
    }
    // Phones with a switch for silence are told that this is music that somebody asked for.
    const session = (navigator as unknown as { audioSession?: { type: string } }).audioSession
    if (session) session.type = 'playback'
    const guard = this.ctx.createDynamicsCompressor() // nothing is louder than one guitar
    guard.threshold.value = -6
    guard.ratio.value = 20
    guard.attack.value = 0.002
    guard.connect(this.ctx.destination)
    this.master = guard
    this.ctx.addEventListener('statechange', () => {
      if (this.ctx?.state !== 'running' && this.band) this.stop(this.text('stopped'))
    })
    return this.ctx
  }

  private async start(mode: 'play' | 'hear'): Promise<void> {
    this.loops.stop()
    this.halt()
    this.mode = mode
    const mine = ++this.coming
    if (typeof AudioContext === 'undefined') return this.say(this.text('silent'))
    const ctx = this.context()
    const woken = ctx.resume() // in the tap itself, or a phone stays silent
    this.busy(true)
    this.show('[data-after]', false)
    try {
      await woken
      const [tune, second] = await Promise.all([this.tune(this.rung.sound), this.tune(this.rung.second)])
      if (mine !== this.coming) return
      this.play(ctx, tune, second)
    } catch (e) {
      if (mine !== this.coming) return
      this.busy(false)
      this.say(e instanceof Refused && e.message ? e.message : this.text(navigator.onLine ? 'failed' : 'away'))
    }
  }

  private play(ctx: AudioContext, tune?: Tune, second?: Tune): void {
    const { line, beat, second: kind, byTool } = this.plan
    const round = kind === 'round' && byTool === true
    const again = (this.one<HTMLInputElement>('[name=again]')?.checked ?? !tune) && this.mode === 'play'
    const countIn = this.mode === 'play' && (this.one<HTMLInputElement>('[name=count]')?.checked ?? true)
    const pass: Pass = {
      line, bpm: this.rung.bpm / beat, from: this.from, to: this.to, countIn, again: again || !tune,
      tune, second: this.mode === 'play' && round ? tune : second, entryS: round ? line.entryS : 0,
    }
    const lead = countIn ? marginS : marginS + 0.3
    this.band = new Band(ctx, this.master!, pass, ctx.currentTime + lead)
    this.begun = this.band.beginS
    this.level()
    if (!tune) this.say(this.text('alone'))
    else this.say(countIn ? this.text('count') : '')
    void this.awake()
    this.run()
    const next = this.plan.rungs[this.at.rung + 1]
    if (this.plan.clean > 0 && next?.sound) void this.tune(next.sound).catch(() => undefined) // ready when it is reached
  }

  private level(): void {
    if (!this.band || !this.ctx) return
    const l = this.loud.now()
    const t = this.ctx.currentTime
    const click = this.mode === 'hear' ? 0 : this.plan.rungs[0]?.sound && !l.clicks ? 0 : l.click
    this.band.guitar.gain.setTargetAtTime(this.mode === 'hear' ? Math.max(l.guitar, 0.4) : l.guitar, t, 0.02)
    this.band.second.gain.setTargetAtTime(l.second, t, 0.02)
    this.band.click.gain.cancelScheduledValues(t)
    // The count-in is heard even where no click goes on.
    const first = this.band.firstS - 0.02
    if (click === 0 && this.mode === 'play' && t < first) {
      this.band.click.gain.setValueAtTime(Math.max(l.click, 0.3), t)
      this.band.click.gain.setValueAtTime(0, first)
    } else this.band.click.gain.setTargetAtTime(click, t, 0.02)
  }

  private run(): void {
    const band = this.band
    const ctx = this.ctx
    if (!band || !ctx) return
    band.tend(ctx.currentTime + aheadS)
    const tend = window.setInterval(() => {
      if (this.band !== band) return window.clearInterval(tend)
      band.tend(ctx.currentTime + aheadS)
      this.restIfLong()
      if (ctx.currentTime > band.endS + 0.05) this.ended()
    }, 200)
    const frame = (): void => {
      if (this.band !== band) return
      this.showPlace(band, ctx.currentTime - (ctx.outputLatency || 0))
      requestAnimationFrame(frame)
    }
    requestAnimationFrame(frame)
  }

  private shownBeat = ''

  private showPlace(band: Band, now: number): void {
    const w = band.where(now)
    const mark = `${w.counting} ${w.bar?.i} ${w.beat} ${w.pass}`
    if (mark === this.shownBeat) return
    this.shownBeat = mark
    const beat = this.one('[data-beat]')
    if (beat) {
      beat.textContent = String(w.beat)
      beat.classList.toggle('counting', w.counting)
      beat.classList.toggle('first', w.beat === 1)
    }
    const bar = this.one('[data-bar]')
    if (bar) bar.textContent = w.bar ? this.text('bar', { bar: w.bar.n }) : ''
    if (w.bar && w.beat === 1) this.say('')
    this.marks.at(w.bar?.i ?? -1, true)
  }

  private ended(): void {
    const whole = this.from === 0 && this.to >= this.plan.line.bars.length - 1
    this.halt()
    if (this.mode === 'play' && whole) {
      this.show('[data-after]', true)
      this.one('#h-after')?.focus()
      this.say('')
    } else this.say(this.text('ask'))
  }

  private stop(words = ''): void {
    this.coming++
    const whole = this.from === 0 && this.to >= this.plan.line.bars.length - 1
    const passed = this.band && this.ctx ? this.band.where(this.ctx.currentTime).pass : 0
    const ask = this.mode === 'play' && whole && passed > 0
    this.halt()
    this.say(words || this.text('stopped'))
    if (ask) this.show('[data-after]', true)
    else this.one('[data-do=play]')?.focus()
  }

  /** Silence; what was played counts towards the rest. */
  private halt(): void {
    if (this.band && this.ctx) {
      if (this.mode === 'play') this.playedS += Math.max(0, this.ctx.currentTime - this.begun)
      this.band.stop()
    }
    this.band = null
    this.shownBeat = ''
    this.busy(false)
    this.marks.at(-1, false)
    const beat = this.one('[data-beat]')
    if (beat) {
      beat.textContent = ''
      beat.className = 'beat figures'
    }
    const bar = this.one('[data-bar]')
    if (bar) bar.textContent = ''
    void this.lock?.release().catch(() => undefined)
    this.lock = undefined
  }

  private busy(on: boolean): void {
    this.show('[data-do=stop]', on)
    this.show('[data-do=play]', !on)
    this.show('[data-do=hear]', !on)
    if (on) this.one('[data-do=stop]')?.focus()
  }

  private show(selector: string, on: boolean): void {
    const e = this.one(selector)
    if (e) e.hidden = !on
  }

  private async awake(): Promise<void> {
    const wake = (navigator as unknown as { wakeLock?: { request(kind: string): Promise<{ release(): Promise<void> }> } }).wakeLock
    this.lock = await wake?.request('screen').catch(() => undefined)
  }

  /** A sound, fetched and decoded once; where it is still being made, it is waited for. */
  private tune(address: string | undefined): Promise<Tune | undefined> {
    if (!address) return Promise.resolve(undefined)
    const here = this.tunes.get(address)
    if (here) return here
    const coming = this.fetched(address)
    this.tunes.set(address, coming)
    coming.catch(() => this.tunes.delete(address))
    for (const old of this.tunes.keys()) if (this.tunes.size > 6) this.tunes.delete(old)
    return coming
  }

  private async fetched(address: string): Promise<Tune> {
    if (!this.band) this.say(this.text('fetching'))
    for (let i = 0; ; i++) {
      const answer = await fetch(address, { headers: { Accept: 'audio/mp4, application/json' } })
      if (answer.ok) return decoded(this.context(), await answer.arrayBuffer())
      if (answer.status !== 429 || i >= tries) throw new Refused(await refusal(answer))
      if (!this.band) this.say(this.text('making'))
      await new Promise((r) => setTimeout(r, 4000))
    }
  }

  private went(well: boolean): void {
    const { plan } = this
    const bpm = this.rung.bpm
    void log({ kind: 'try', student: plan.student, assignment: plan.of, clean: well, bpm, seconds: Math.round(this.playedS) })
    const [next, turn] = after(this.at, well, plan.rungs.length, plan.clean)
    this.at = next
    this.remember()
    if (turn === 'up' || turn === 'arrived') void log({ kind: 'rung', student: plan.student, assignment: plan.of, bpm: this.rung.bpm })
    this.show('[data-after]', false)
    this.showSteps()
    this.sayWay(turn, well)
    this.say(this.ready)
    this.one('[data-do=play]')?.focus()
    this.restIfLong()
  }

  private step(by: number): void {
    const rung = Math.min(this.plan.rungs.length - 1, Math.max(0, this.at.rung + by))
    if (rung === this.at.rung) return
    const playing = this.band !== null
    this.at = { rung, well: 0, not: 0 }
    this.remember()
    this.showSteps()
    this.sayWay('stays')
    if (playing) void this.start(this.mode)
  }

  private remember(): void {
    keep(this.plan.of, this.rung.bpm, this.at, new Date(), kept(this.plan.of))
  }

  private showSteps(): void {
    const list = this.one('[data-steps]')
    if (!list) return
    list.replaceChildren(
      ...this.plan.rungs.map((r, i) => {
        const li = document.createElement('li')
        li.className = i < this.at.rung ? 'past' : i > this.at.rung ? 'ahead' : 'here'
        if (i === this.at.rung) li.setAttribute('aria-current', 'step')
        const words = document.createElement('span')
        words.className = 'vh'
        words.textContent = r.pace
        li.append(words)
        return li
      }),
    )
    const end = (by: number): boolean => this.at.rung + by < 0 || this.at.rung + by >= this.plan.rungs.length
    for (const [what, by] of [['slower', -1], ['faster', 1]] as const) {
      const b = this.one<HTMLButtonElement>(`[data-do=${what}]`)
      if (b) b.disabled = end(by)
    }
  }

  /** Where we are, in words: the tempo, against the last day, and what comes next. */
  private sayWay(turn: Turn, well?: boolean): void {
    const { plan, at, rung } = this
    const parts: string[] = []
    if (turn !== 'stays') parts.push(this.text(turn))
    parts.push(this.text('step', { step: at.rung + 1, steps: plan.rungs.length, pace: rung.pace }))
    if (this.before > 0 && turn === 'stays' && well === undefined) parts.push(this.text(rung.bpm > this.before + 0.05 ? 'faster' : rung.bpm < this.before - 0.05 ? 'slower' : 'same'))
    if (plan.clean > 0 && turn !== 'arrived') {
      const more = plan.clean - at.well
      parts.push(this.text(more === 1 ? 'more.one' : 'more.more', { n: more }))
    }
    if (well === false && turn === 'stays') parts.unshift(this.text('kept'))
    const e = this.one('[data-way]')
    if (e) e.textContent = parts.filter(Boolean).join(' ')
  }

  private restIfLong(): void {
    const now = this.band && this.ctx && this.mode === 'play' ? Math.max(0, this.ctx.currentTime - this.begun) : 0
    if (this.playedS + now < this.restS) return
    this.restS = Infinity
    if (this.band) this.stop(this.text('stopped'))
    const say = this.one('[data-rest-say]')
    if (say) say.textContent = this.text(this.plan.minutes === 1 ? 'rest.one' : 'rest.more', { minutes: this.plan.minutes })
    this.show('[data-rest]', true)
    this.one('[data-rest]')?.focus()
  }

  private more(): void {
    this.restS = this.playedS + moreMinutes * 60
    this.show('[data-rest]', false)
    this.one('[data-do=play]')?.focus()
  }

  private done(): void {
    this.stop()
    void log({ kind: 'done', student: this.plan.student, assignment: this.plan.of, seconds: Math.round(this.playedS), bpm: this.rung.bpm })
    this.show('[data-rest]', false)
    this.show('[data-after]', false)
    this.say(this.text('went'))
  }

  private hurt(): void {
    this.stop()
    this.loops.stop()
    const told = this.one('[data-told]')
    log({ kind: 'hurt', student: this.plan.student, assignment: this.plan.of }).then(
      () => told && (told.textContent = this.text('hurt')),
      () => told && (told.textContent = ''),
    )
    this.root.dataset.stopped = ''
    this.say('')
    this.show('[data-pain]', true)
    const box = this.one('[data-pain]')
    box?.scrollIntoView({ block: 'center' })
    box?.focus()
  }

  // The bars that are played.

  private music(svg: SVGSVGElement): void {
    this.marks.set(svg)
    this.mark()
  }

  private fillBars(): void {
    const { bars } = this.plan.line
    for (const name of ['from', 'to'] as const) {
      const list = this.one<HTMLSelectElement>(`select[name=${name}]`)
      if (!list) continue
      list.replaceChildren(...bars.map((b, k) => new Option(bars.some((o, j) => j < k && o.n === b.n) ? `${b.n} ↻` : b.n || '–', String(k))))
      list.value = String(this[name])
      list.addEventListener('change', () => {
        const k = Number(list.value)
        if (name === 'from') this.choose(k, Math.max(k, this.to))
        else this.choose(Math.min(k, this.from), k)
      })
    }
  }

  /** A first tap takes one bar, the next one everything up to it, a third begins anew. */
  private tapped(index: number): void {
    const k = this.plan.line.bars.findIndex((b) => b.i === index)
    if (k < 0) return
    if (this.from === this.to && this.from !== k) this.choose(Math.min(k, this.from), Math.max(k, this.from))
    else this.choose(k, k)
  }

  private choose(from: number, to: number, again = true): void {
    this.from = from
    this.to = to
    const all = from === 0 && to === this.plan.line.bars.length - 1
    for (const name of ['from', 'to'] as const) {
      const list = this.one<HTMLSelectElement>(`select[name=${name}]`)
      if (list) list.value = String(this[name])
    }
    const box = this.one<HTMLInputElement>('[name=again]')
    if (box && (all || again)) box.checked = !all
    this.mark()
    const { bars } = this.plan.line
    const names = { from: bars[from]?.n ?? '', to: bars[to]?.n ?? '', bar: bars[from]?.n ?? '' }
    this.say(this.text(all ? 'all' : from === to ? 'only' : 'from', names))
    this.show('[data-after]', false)
    if (this.band) void this.start(this.mode)
  }

  private mark(): void {
    const { bars } = this.plan.line
    const all = this.from === 0 && this.to === bars.length - 1
    this.marks.choose(all ? [] : bars.slice(this.from, this.to + 1).map((b) => b.i))
  }

  leave(): void {
    this.loops.stop()
    this.halt()
    void this.ctx?.close()
  }
}

async function refusal(answer: Response): Promise<string> {
  const kind = answer.headers.get('Content-Type') ?? ''
  if (!kind.includes('json')) return ''
  return ((await answer.json()) as { say?: string }).say ?? ''
}

export function mount(root: HTMLElement): () => void {
  const it = new PlayAlong(root)
  return () => it.leave()
}
