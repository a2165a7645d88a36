// _deck.ts: the recording and how it is played: from a place, slowly without change of pitch, over and over.

/** Seconds of lead-in, so that the ear has arrived when the place comes. */
const leadIn = 0.8
const leadOut = 0.6

type Listener = (s: number, playing: boolean) => void

export class Deck {
  private told: Listener[] = []
  private span: { from: number; to: number } | null = null
  private ticking = false
  again = false

  constructor(readonly media: HTMLMediaElement) {
    media.controls = false
    media.preservesPitch = true
    for (const event of ['play', 'pause', 'seeked', 'loadedmetadata', 'ratechange']) media.addEventListener(event, () => this.tick())
    media.addEventListener('ended', () => {
      if (this.again && this.span) this.play(this.span.from)
    })
  }

  get time(): number {
    return this.media.currentTime
  }

  get playing(): boolean {
    return !this.media.paused && !this.media.ended
  }

  get duration(): number {
    return Number.isFinite(this.media.duration) ? this.media.duration : 0
  }

  onTime(f: Listener): void {
    this.told.push(f)
    f(this.time, this.playing)
  }

  /** Goes to a place; what was to come round again is forgotten. */
  seek(s: number, keepSpan = false): void {
    if (!keepSpan) this.span = null
    const most = this.duration > 0 ? this.duration - 0.02 : Infinity
    this.media.currentTime = Math.min(Math.max(0, s), most)
  }

  play(from?: number): void {
    if (from !== undefined) this.seek(from, true)
    this.media.play().catch((e: unknown) => {
      if (!(e instanceof DOMException && e.name === 'AbortError')) this.media.dispatchEvent(new Event('unplayable'))
    })
  }

  pause(): void {
    this.media.pause()
  }

  toggle(): void {
    if (this.playing) this.pause()
    else this.play()
  }

  /** Plays one place and stops after it, or plays it again and again. */
  playSpan(from: number, to: number): void {
    this.span = { from: Math.max(0, from - leadIn), to: Math.max(to, from + 0.4) + leadOut }
    this.play(this.span.from)
  }

  /** The place that comes round again while `again` is on. */
  setSpan(from: number, to: number): void {
    this.span = { from, to }
  }

  get hasSpan(): boolean {
    return this.span !== null
  }

  speed(rate: number): void {
    this.media.defaultPlaybackRate = this.media.playbackRate = rate
  }

  private tick(): void {
    const s = this.media.currentTime
    if (this.span && this.playing && s >= this.span.to) {
      if (this.again) this.media.currentTime = this.span.from
      else {
        this.span = null
        this.media.pause()
      }
    }
    for (const f of this.told) f(this.media.currentTime, this.playing)
    if (this.playing && !this.ticking) {
      this.ticking = true
      requestAnimationFrame(() => {
        this.ticking = false
        this.tick()
      })
    }
  }
}
