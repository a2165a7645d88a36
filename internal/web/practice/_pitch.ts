// _pitch.ts hears the pitch of one plucked string: the normalised square difference of McLeod and Wyvill, "A
// smarter way to find pitch" (2005), with the first great maximum as the period. Each lag is then measured over
// several periods, since a string swings evenly for seconds and an error is shared by all of them.

export interface Heard {
  hz: number
  clarity: number // of the period, 0 to 1
}

const quietest = 0.0015 // root mean square, of full scale
const greatest = 0.97 // share of the highest maximum that the first one must reach; McLeod and Wyvill have 0.8 to 1
const promising = 0.85 // share, at the places of the first search, that a maximum is looked at again for
const clearest = 0.85 // below it nothing is told
const coarse = 4 // samples of the first search
const spans = 0.5 // of the window, up to which periods are counted
const smooth = [10, 8] // lengths of two running means: what lies above 2.5 kHz only blurs the period of a stiff string

function means(x: Float32Array, n: number): Float32Array {
  const out = new Float32Array(Math.max(0, x.length - n + 1))
  let sum = 0
  for (let i = 0; i < x.length; i++) {
    sum += x[i]! - (i >= n ? x[i - n]! : 0)
    if (i >= n - 1) out[i - n + 1] = sum / n
  }
  return out
}

/** The normalised square difference at one lag: 1 where the sound repeats. */
function likeness(x: Float32Array, lag: number, step: number): number {
  let same = 0
  let all = 0
  for (let i = 0; i + lag < x.length; i += step) {
    const a = x[i]!
    const b = x[i + lag]!
    same += a * b
    all += a * a + b * b
  }
  return all > 0 ? (2 * same) / all : 0
}

/** The top of a parabola through three likenesses round a lag: its place and height. */
function top(x: Float32Array, lag: number): [number, number] {
  const a = likeness(x, lag - 1, 1)
  const b = likeness(x, lag, 1)
  const c = likeness(x, lag + 1, 1)
  const bend = a - 2 * b + c
  if (bend >= 0) return [lag, b]
  const off = (a - c) / (2 * bend)
  return [lag + off, b - ((a - c) * off) / 4]
}

function climb(x: Float32Array, lag: number, reach: number): number {
  let best = lag
  let height = -1
  for (let l = Math.max(2, lag - reach); l <= lag + reach; l++) {
    const h = likeness(x, l, 1)
    if (h > height) {
      height = h
      best = l
    }
  }
  return best
}

/** The pitch of a stretch of sound, about 0.17 s of it; null where no one string is clear. */
export function pitch(sound: Float32Array, rateHz: number, lowHz = 55, highHz = 560): Heard | null {
  let energy = 0
  for (const v of sound) energy += v * v
  if (Math.sqrt(energy / sound.length) < quietest) return null
  const scale = rateHz / 48000
  let x = sound
  for (const n of smooth) x = means(x, Math.max(1, Math.round(n * scale)))
  let mean = 0
  for (const v of x) mean += v / x.length
  x = x.map((v) => v - mean)

  const longest = Math.min(Math.ceil(rateHz / lowHz), x.length >> 1)
  const shortest = Math.floor(rateHz / highHz)
  // The maxima between the places where the likeness rises through nothing.
  const peaks: [number, number][] = []
  let rising = false
  let peak: [number, number] = [0, 0]
  for (let lag = coarse; lag <= longest; lag += coarse) {
    const h = likeness(x, lag, coarse)
    if (h <= 0) {
      if (rising && peak[0] > 0) peaks.push(peak)
      rising = true
      peak = [0, 0]
    } else if (rising && h > peak[1]) peak = [lag, h]
  }
  if (peak[0] > 0 && peak[0] < longest - coarse) peaks.push(peak)
  const about = Math.max(0, ...peaks.map(([, h]) => h))
  const tops = peaks.filter(([lag, h]) => h >= promising * about && lag >= shortest - coarse).map(([lag]) => top(x, climb(x, lag, coarse)))
  const high = Math.max(0, ...tops.map(([, h]) => h))
  const first = tops.find(([, h]) => h >= greatest * high)
  if (!first || high < clearest) return null

  let [period] = first
  const clarity = first[1]
  for (let n = 2; n * period < x.length * spans; n *= 2) {
    const at = Math.round(n * period)
    const lag = climb(x, at, Math.min(3, Math.floor(period / 4)))
    const [further, height] = top(x, lag)
    if (height < clearest * clarity) break // it does not swing so evenly, or it has died away
    period = further / n
  }
  return { hz: rateHz / period, clarity }
}

/** How far a pitch is from another, in cents. */
export const cents = (hz: number, fromHz: number): number => 1200 * Math.log2(hz / fromHz)

/** The pitch of a key of the piano, with A4 at a4Hz. */
export const hzOf = (midi: number, a4Hz: number): number => a4Hz * 2 ** ((midi - 69) / 12)

/** The string that is nearest to a pitch: its place in the list and how far off it is, in cents. */
export function nearest(hz: number, strings: number[], a4Hz: number): { string: number; cents: number } {
  let best = { string: 0, cents: Infinity }
  strings.forEach((midi, i) => {
    const c = cents(hz, hzOf(midi, a4Hz))
    if (Math.abs(c) < Math.abs(best.cents)) best = { string: i, cents: c }
  })
  return best
}

const settled = 5 // readings
const enough = 4 // the first ones still hold the stroke
const together = 25 // cents within which they lie

/** Steady makes one reading of several: the middle one of the last, once they agree. */
export class Steady {
  private last: number[] = []

  add(hz: number | null): number | null {
    if (hz === null) {
      this.last.shift()
      return null
    }
    const newest = this.last.at(-1)
    if (newest !== undefined && Math.abs(cents(hz, newest)) > 100) this.last = [] // another string
    this.last.push(hz)
    if (this.last.length > settled) this.last.shift()
    if (this.last.length < enough) return null
    const sorted = [...this.last].sort((a, b) => a - b)
    if (cents(sorted.at(-1)!, sorted[0]!) > together) return null
    return sorted[sorted.length >> 1]!
  }
}
