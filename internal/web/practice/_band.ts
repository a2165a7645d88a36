// _band.ts plays guitar, click and second part together. Everything is laid on the clock of the audio hardware
// ahead of time, each thing on its own sample: nothing waits for a timer of the page, so nothing drifts, and
// the end of one pass is the beginning of the next.
//
// A sound comes as AAC with a mark one second before its first beat, since decoders leave more or less silence
// at the beginning: see package sound.

/** The time from the mark to the first beat, as sound.MarkLeadS. */
export const leadS = 1
const markSearchS = 0.3 // of the beginning, in which the mark lies
const markHz = 2000
const markWidthS = 0.0007

export interface Bar {
  i: number // into the score's bars
  n: string // as printed
  at: number
}

/** What is played when, in seconds from the first beat at a tempo of bpm beats a minute. Clicks have an accent, 0 to 2. */
export interface Line {
  bpm: number
  lengthS: number
  entryS: number
  bars: Bar[]
  countIn: [number, number][]
  clicks: [number, number][]
}

/** A sound with the sample of its first beat. */
export interface Tune {
  buffer: AudioBuffer
  first: number
}

/** What is to be played: bars by their place in the line, in beats a minute. */
export interface Pass {
  line: Line
  bpm: number
  from: number
  to: number
  countIn: boolean
  again: boolean
  tune?: Tune | undefined
  second?: Tune | undefined // beside it, or the same tune for a round
  entryS: number // of the second part, at the line's own tempo; 0 at once
}

/** Where the music is at a moment. */
export interface Where {
  counting: boolean // the music has not begun
  bar?: Bar // none in the count-in, nor where there are only clicks
  beat: number // in the bar, from 1
  pass: number
}

/** The place of the mark in a decoded sound, in samples. */
export function findMark(pcm: Float32Array, rateHz: number): number {
  const half = Math.round(6 * markWidthS * rateHz)
  const burst = new Float32Array(2 * half + 1)
  for (let i = -half; i <= half; i++) {
    const t = i / rateHz
    burst[i + half] = Math.exp((-t * t) / (2 * markWidthS * markWidthS)) * Math.cos(2 * Math.PI * markHz * t)
  }
  let best = 0
  let at = 0
  const until = Math.min(Math.round(markSearchS * rateHz), pcm.length) - burst.length
  for (let i = 0; i < until; i++) {
    let sum = 0
    for (let j = 0; j < burst.length; j++) sum += pcm[i + j]! * burst[j]!
    if (sum > best) {
      best = sum
      at = i + half
    }
  }
  return at
}

/** A sound that was fetched, with its first beat found. */
export async function decoded(ctx: BaseAudioContext, file: ArrayBuffer): Promise<Tune> {
  const buffer = await ctx.decodeAudioData(file)
  return { buffer, first: findMark(buffer.getChannelData(0), buffer.sampleRate) + Math.round(leadS * buffer.sampleRate) }
}

const clickHz = [880, 1046.5, 1318.5]
const clickLevel = [0.56, 0.75, 1] // −5, −2.5 and 0 dB, as package sound has them
const clickFallS = 0.011
const clickS = 0.09
const clickPeak = 0.35

/** A dry, low tick; its first sample is its onset. */
function clickSound(ctx: BaseAudioContext, accent: number): AudioBuffer {
  const n = Math.round(clickS * ctx.sampleRate)
  const buffer = ctx.createBuffer(1, n, ctx.sampleRate)
  const out = buffer.getChannelData(0)
  for (let i = 0; i < n; i++) {
    const t = (i + 1) / ctx.sampleRate
    const fade = Math.min(1, (n - i) / 480)
    out[i] = clickPeak * clickLevel[accent]! * Math.sin(2 * Math.PI * clickHz[accent]! * t) * Math.exp(-t / clickFallS) * fade
  }
  return buffer
}

const headS = 0.5 // before the first beat of all, for grace notes
const joinS = 0.008 // a note that rings on is taken in and out so fast
const outS = 0.012

/** Band is one playing; a new one is made for the next. */
export class Band {
  readonly guitar: GainNode
  readonly second: GainNode
  readonly click: GainNode
  private readonly clicks: AudioBuffer[]
  private readonly sounding: AudioScheduledSourceNode[] = []
  private passes = 0 // laid out
  private counted = false
  private readonly fromS: number
  private readonly toS: number
  private readonly scale: number
  /** The moment of the first beat, and of the first click before it. */
  readonly firstS: number
  readonly beginS: number

  constructor(
    private readonly ctx: BaseAudioContext,
    out: AudioNode,
    private readonly pass: Pass,
    at: number,
  ) {
    const gain = (): GainNode => {
      const g = ctx.createGain()
      g.connect(out)
      return g
    }
    this.guitar = gain()
    this.second = gain()
    this.click = gain()
    this.clicks = [0, 1, 2].map((a) => clickSound(ctx, a))
    this.scale = pass.line.bpm / pass.bpm
    const { bars, lengthS } = pass.line
    this.fromS = (bars[pass.from]?.at ?? 0) * this.scale
    this.toS = (bars[pass.to + 1]?.at ?? lengthS) * this.scale
    this.beginS = at
    const first = pass.countIn ? this.countIn()[0]?.[0] ?? 0 : 0
    this.firstS = this.frame(at - first * this.scale)
  }

  /** The clicks of the count-in, before the first beat of what is played, at the line's own tempo. */
  private countIn(): [number, number][] {
    const { line, from } = this.pass
    const bar = line.bars[from]
    const next = line.bars[from + 1]?.at ?? line.lengthS
    if (from === 0 || !bar) return line.countIn
    const inside = line.clicks.filter(([s]) => s >= bar.at - 1e-9 && s < next - 1e-9)
    return inside.map(([s, accent]) => [s - next, accent])
  }

  private frame(s: number): number {
    return Math.round(s * this.ctx.sampleRate) / this.ctx.sampleRate
  }

  /** How long one pass takes. */
  get passS(): number {
    return this.toS - this.fromS
  }

  /** The moment at which the last pass that was asked for ends; never for what goes round. */
  get endS(): number {
    const late = this.whole() ? this.pass.entryS * this.scale : 0
    return this.pass.again ? Infinity : this.firstS + this.passS + late
  }

  private whole(): boolean {
    return this.pass.from === 0 && this.pass.to >= this.pass.line.bars.length - 1
  }

  /** Lays out everything that begins before a moment. Call it again before that moment comes. */
  tend(until: number): void {
    if (!this.counted) {
      this.counted = true
      if (this.pass.countIn) for (const [s, accent] of this.countIn()) this.tick(this.firstS + s * this.scale, accent)
    }
    while ((this.passes === 0 || this.pass.again) && this.start(this.passes) - headS < until) this.lay(this.passes++)
  }

  /** The moment at which a pass begins: reckoned from the first, so that nothing adds up. */
  private start(pass: number): number {
    return this.firstS + pass * this.passS
  }

  private lay(pass: number): void {
    const at = this.start(pass)
    const { tune, second, entryS, line } = this.pass
    const end = this.pass.again ? this.toS : Math.max(this.toS, this.whole() ? line.lengthS * this.scale + entryS * this.scale : 0)
    for (const [s, accent] of line.clicks) {
      const t = s * this.scale
      if (t >= this.fromS - 1e-6 && t < end - 1e-6) this.tick(at + t - this.fromS, accent)
    }
    if (tune) this.play(tune, this.guitar, at, this.fromS, this.toS)
    const late = entryS * this.scale
    if (!second) return
    if (late === 0) this.play(second, this.second, at, this.fromS, this.toS)
    else if (this.pass.again && !this.whole()) this.play(second, this.second, at, Math.max(0, this.fromS - late), Math.max(0, this.toS - late), Math.max(0, late - this.fromS))
    else this.play(second, this.second, at + late, 0, line.lengthS * this.scale)
  }

  /** Plays a tune from one place in it to another, such that its place fromS sounds at a moment. */
  private play(tune: Tune, out: GainNode, at: number, fromS: number, toS: number, afterS = 0): void {
    if (toS <= fromS) return
    const rate = this.ctx.sampleRate
    const lengthS = this.pass.line.lengthS * this.scale
    const first = fromS <= 1e-6
    const head = Math.min(first ? headS : joinS, at + afterS - this.ctx.currentTime)
    const source = this.ctx.createBufferSource()
    source.buffer = tune.buffer
    const edge = this.ctx.createGain()
    source.connect(edge).connect(out)
    const begin = this.frame(at + afterS - head)
    if (!first) {
      edge.gain.setValueAtTime(0, begin)
      edge.gain.linearRampToValueAtTime(1, begin + Math.max(head, 1 / rate))
    }
    const offset = (tune.first + Math.round((fromS - head) * rate)) / rate
    if (toS < lengthS - 1e-6) {
      const stop = at + afterS + toS - fromS
      edge.gain.setValueAtTime(1, stop - outS)
      edge.gain.linearRampToValueAtTime(0, stop)
      source.start(begin, offset, stop - begin)
    } else source.start(begin, offset) // the last notes ring on, into the next pass
    this.keep(source)
  }

  private tick(at: number, accent: number): void {
    const source = this.ctx.createBufferSource()
    source.buffer = this.clicks[accent] ?? this.clicks[0]!
    source.connect(this.click)
    source.start(this.frame(at))
    this.keep(source)
  }

  private keep(source: AudioScheduledSourceNode): void {
    this.sounding.push(source)
    source.onended = () => {
      const i = this.sounding.indexOf(source)
      if (i >= 0) this.sounding.splice(i, 1)
    }
  }

  /** Silence, without a crack. */
  stop(): void {
    const now = this.ctx.currentTime
    for (const g of [this.guitar, this.second, this.click]) {
      g.gain.cancelScheduledValues(now)
      g.gain.setTargetAtTime(0, now, 0.02)
    }
    for (const s of this.sounding) s.stop(now + 0.2)
  }

  /** Where the music is at a moment of the clock. */
  where(now: number): Where {
    const { line, from, to, again } = this.pass
    let s = now - this.firstS
    if (s < -1e-6) {
      const before = this.countIn().filter(([c]) => c * this.scale <= s + 1e-6)
      let beat = 0
      for (const [, accent] of before) beat = accent === 2 ? 1 : beat + 1
      return { counting: true, beat: Math.max(1, beat), pass: -1 }
    }
    const pass = again ? Math.floor((s + 1e-6) / this.passS) : 0
    s += this.fromS - pass * this.passS
    let bar = line.bars[from]
    for (let k = from; k <= to; k++) {
      const b = line.bars[k]
      if (b && b.at * this.scale <= s + 1e-6) bar = b
    }
    const start = (bar?.at ?? 0) * this.scale
    const beat = line.clicks.filter(([c]) => c * this.scale >= start - 1e-6 && c * this.scale <= s + 1e-6).length
    return { counting: false, ...(bar && { bar }), beat: Math.max(1, beat), pass }
  }
}
