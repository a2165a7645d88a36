// tune.ts: <div data-island="tune" data-plan="…">: it listens to the microphone and says which open string sounds
// and where it is: a little low, in, a little high. Nothing that it hears is kept or sent.

import { hzOf, nearest, pitch, cents, Steady } from './_pitch'

interface OpenString {
  midi: number
  name: string
}

const everyMs = 70
const windowS = 0.17
const inTune = 4 // cents
const aLittle = 18
const far = 130 // a string apart from every other
const widest = 60 // of the picture
const a4Key = 'antiphon-a4'
const toneS = 2.5
const holdMs = 1500 // the last word stays after a string has died away

class Tuner {
  private readonly words: Record<string, string>
  private readonly tunings: { strings: OpenString[] }[]
  private ctx?: AudioContext
  private stream?: MediaStream
  private analyser?: AnalyserNode
  private timer = 0
  private steady = new Steady()
  private heardAt = 0
  private said = ''
  private deafUntil = 0

  constructor(private readonly root: HTMLElement) {
    this.words = JSON.parse(root.dataset.words ?? '{}') as Record<string, string>
    this.tunings = JSON.parse(root.dataset.plan ?? '[]') as { strings: OpenString[] }[]
    const a4 = this.one<HTMLInputElement>('[name=a4]')
    const kept = Number(stored(a4Key))
    if (a4 && kept >= 430 && kept <= 450) a4.value = String(kept)
    a4?.addEventListener('change', () => store(a4Key, a4.value))
    this.one('[name=tuning]')?.addEventListener('change', () => this.show())
    root.addEventListener('click', (e) => this.clicked(e))
    this.show()
  }

  private one<T extends HTMLElement>(selector: string): T | null {
    return this.root.querySelector<T>(selector)
  }

  private get strings(): OpenString[] {
    return this.tunings[Number(this.one<HTMLSelectElement>('[name=tuning]')?.value ?? 0)]?.strings ?? []
  }

  private get a4Hz(): number {
    const v = Number(this.one<HTMLInputElement>('[name=a4]')?.value)
    return v >= 430 && v <= 450 ? v : 440
  }

  private text(key: string, blanks: Record<string, string | number> = {}): string {
    return (this.words[key] ?? '').replace(/\{([a-z]+)\}/g, (_, name: string) => String(blanks[name] ?? ''))
  }

  private show(): void {
    const list = this.one('[data-strings]')
    list?.replaceChildren(
      ...this.strings.map((s, i) => {
        const li = document.createElement('li')
        const b = document.createElement('button')
        b.type = 'button'
        b.dataset.tone = String(i)
        b.textContent = this.text('string', { n: i + 1, name: s.name })
        b.style.setProperty('--thick', `${1 + i * 0.7}px`)
        li.append(b)
        return li
      }),
    )
    const only = this.one<HTMLSelectElement>('[name=only]')
    if (!only) return
    const was = only.value
    only.replaceChildren(only.options[0]!, ...this.strings.map((s, i) => new Option(this.text('string', { n: i + 1, name: s.name }), String(i))))
    only.value = was
  }

  private clicked(e: MouseEvent): void {
    if (!(e.target instanceof Element)) return
    const b = e.target.closest<HTMLElement>('[data-do], [data-tone]')
    if (b?.dataset.do === 'listen') void this.listen()
    else if (b?.dataset.do === 'stop') this.stop()
    else if (b?.dataset.tone) this.tone(Number(b.dataset.tone))
  }

  private context(): AudioContext {
    this.ctx ??= new AudioContext()
    return this.ctx
  }

  private async listen(): Promise<void> {
    if (!navigator.mediaDevices?.getUserMedia || typeof AudioContext === 'undefined') return this.say(this.text('none'))
    const ctx = this.context()
    const woken = ctx.resume()
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } })
      await woken
    } catch (e) {
      const name = e instanceof DOMException ? e.name : ''
      return this.say(this.text(name === 'NotAllowedError' || name === 'SecurityError' ? 'refused' : name === 'NotFoundError' ? 'none' : 'broken'))
    }
    this.analyser = ctx.createAnalyser()
    this.analyser.fftSize = 2 ** Math.ceil(Math.log2(windowS * ctx.sampleRate))
    ctx.createMediaStreamSource(this.stream).connect(this.analyser)
    this.stream.getAudioTracks()[0]?.addEventListener('ended', () => this.stop(this.text('broken')))
    this.running(true)
    this.say(this.text('play'))
    const sound = new Float32Array(this.analyser.fftSize)
    this.timer = window.setInterval(() => {
      if (!this.analyser || performance.now() < this.deafUntil) return
      this.analyser.getFloatTimeDomainData(sound)
      this.hear(this.steady.add(pitch(sound, ctx.sampleRate)?.hz ?? null))
    }, everyMs)
  }

  private running(on: boolean): void {
    for (const [what, hidden] of [['listen', on], ['stop', !on]] as const) {
      const b = this.one(`[data-do=${what}]`)
      if (b) b.hidden = hidden
    }
    this.one(on ? '[data-do=stop]' : '[data-do=listen]')?.focus()
  }

  private hear(hz: number | null): void {
    const now = performance.now()
    if (hz === null) {
      if (this.heardAt > 0 && now - this.heardAt > holdMs) {
        this.heardAt = 0
        this.place(null)
        this.say(this.text('play'))
      }
      return
    }
    this.heardAt = now
    const midis = this.strings.map((s) => s.midi)
    const near = nearest(hz, midis, this.a4Hz)
    const only = this.one<HTMLSelectElement>('[name=only]')?.value ?? ''
    const want = only === '' ? near.string : Number(only)
    const off = only === '' ? near.cents : cents(hz, hzOf(midis[want]!, this.a4Hz))
    const name = (i: number): Record<string, string | number> => ({ n: i + 1, name: this.strings[i]?.name ?? '' })
    this.mark(near.string)
    this.place(off)
    if (near.string !== want && Math.abs(near.cents) < 60) return this.say(this.text('other', name(near.string)), near.string)
    if (Math.abs(off) > far) return this.say(this.text('far', name(want)), want)
    const how = Math.abs(off) <= inTune ? 'in' : off < -aLittle ? 'very-low' : off < 0 ? 'low' : off > aLittle ? 'very-high' : 'high'
    this.say(this.text(how, name(want)), want, Math.round(off))
  }

  private mark(string: number): void {
    this.root.querySelectorAll('[data-tone]').forEach((b) => b.classList.toggle('sounds', b.getAttribute('data-tone') === String(string)))
  }

  private place(off: number | null): void {
    const dot = this.root.querySelector('[data-dot]')
    if (!dot) return
    dot.classList.toggle('none', off === null)
    if (off === null) return this.mark(-1)
    dot.classList.toggle('in', Math.abs(off) <= inTune)
    const x = (Math.max(-widest, Math.min(widest, off)) / widest) * 300
    dot.setAttribute('transform', `translate(${x.toFixed(1)} 0)`)
  }

  private say(words: string, string = -1, off?: number): void {
    const which = this.one('[data-which]')
    const s = this.strings[string]
    if (which) which.textContent = s ? `${string + 1} · ${s.name}` : ''
    const figure = this.one('[data-cents]')
    if (figure) figure.textContent = off === undefined ? '' : `${off > 0 ? '+' : off < 0 ? '−' : '±'}${Math.abs(off)} cent`
    if (words === this.said) return // a screen reader is told a thing once
    this.said = words
    const e = this.one('[data-say]')
    if (e) e.textContent = words
  }

  /** The tone of a string, to tune by ear: soft, a string's first partials. */
  private tone(i: number): void {
    const s = this.strings[i]
    if (!s || typeof AudioContext === 'undefined') return
    const ctx = this.context()
    void ctx.resume()
    this.deafUntil = performance.now() + toneS * 1000
    const f = hzOf(s.midi, this.a4Hz)
    const at = ctx.currentTime + 0.02
    for (let k = 1; k <= 5; k++) {
      const o = ctx.createOscillator()
      const g = ctx.createGain()
      o.frequency.value = f * k
      g.gain.setValueAtTime(0, at)
      g.gain.linearRampToValueAtTime(0.16 / k ** 1.4, at + 0.008)
      g.gain.exponentialRampToValueAtTime(0.0001, at + toneS / (1 + 0.25 * (k - 1)))
      o.connect(g).connect(ctx.destination)
      o.start(at)
      o.stop(at + toneS)
    }
  }

  stop(words = ''): void {
    window.clearInterval(this.timer)
    this.stream?.getTracks().forEach((t) => t.stop())
    this.stream = undefined
    this.analyser = undefined
    this.steady = new Steady()
    this.heardAt = 0
    this.place(null)
    this.running(false)
    this.say(words)
  }
}

function stored(key: string): string {
  try {
    return localStorage.getItem(key) ?? ''
  } catch {
    return ''
  }
}

function store(key: string, value: string): void {
  try {
    localStorage.setItem(key, value)
  } catch {
    /* the next visit asks again */
  }
}

export function mount(root: HTMLElement): () => void {
  const t = new Tuner(root)
  return () => t.stop()
}
