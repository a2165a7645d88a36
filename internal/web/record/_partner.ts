// _partner.ts counts in, and plays the tool's part beside a recording such that it is known afterwards where
// in the recording that part lies.
//
// A recorder begins when it likes, some hundredths of a second after it was asked to. So the microphone is
// led through the audio graph into the recording, and a short rising chirp, that nobody hears, is put into
// the recording only, at a known moment of the clock that also starts the part. Afterwards the chirp is
// found in the recorded sound: that gives the place of the part to the sample, whatever the recorder did.
//
// What the child hears is later by what the loudspeaker takes, and what is recorded of the child by what the
// microphone takes; both are estimates of the browser and of the device, and are told as such.

import { decoded, type Tune } from '../practice/_band'
import { file } from './_vault'

const chirpS = 0.02
const chirpFromHz = 1500
const chirpToHz = 6500
const chirpPeak = 0.05 // soft against a guitar; the filter that finds it gathers the whole of it
const chirpAfterS = 0.25 // once the recorder runs
const searchS = 1.2 // of the recording's beginning: nobody plays yet
const headS = 0.25 // of a part before its first beat, for grace notes; less than a beat of the count-in
const clearly = 3 // times the next best place, else it is not sure

// Placed says where in the recording the child's first beat falls, as the tool's part has it.
export interface Placed {
  beatS: number // with the latency
  latencyS: number // of it, estimated
  exact: boolean // found by the chirp; else by the moment when the recorder said that it runs, ± 0.1 s
}

export function chirp(rateHz: number): Float32Array<ArrayBuffer> {
  const n = Math.round(chirpS * rateHz)
  const out = new Float32Array(n)
  for (let i = 0; i < n; i++) {
    const t = i / rateHz
    const phase = 2 * Math.PI * (chirpFromHz * t + ((chirpToHz - chirpFromHz) * t * t) / (2 * chirpS))
    out[i] = chirpPeak * Math.sin(phase) * Math.sin((Math.PI * i) / n) ** 2
  }
  return out
}

// find gives the place of the chirp in a sound, in samples and parts of one, or undefined where it is not clear.
export function find(sound: Float32Array, rateHz: number): number | undefined {
  const mark = chirp(rateHz)
  const until = Math.min(sound.length, Math.round(searchS * rateHz)) - mark.length
  if (until < 3) return undefined
  const match = new Float32Array(until)
  for (let at = 0; at < until; at++) {
    let sum = 0
    for (let i = 0; i < mark.length; i++) sum += sound[at + i]! * mark[i]!
    match[at] = sum
  }
  let best = 1
  for (let at = 1; at < until - 1; at++) if (match[at]! > match[best]!) best = at
  let next = 0
  for (let at = 0; at < until; at++) if (Math.abs(at - best) > mark.length) next = Math.max(next, Math.abs(match[at]!))
  if (match[best]! < clearly * next) return undefined
  const [a, b, c] = [match[best - 1]!, match[best]!, match[best + 1]!]
  const bend = a - 2 * b + c // the top of a parabola through three points
  return best + (bend < 0 ? (a - c) / (2 * bend) : 0)
}

// Partner is the tool's part for one try.
export class Partner {
  private readonly into: MediaStreamAudioDestinationNode
  private readonly from: MediaStreamAudioSourceNode
  private source?: AudioBufferSourceNode
  private chirpAt = 0
  private beatAt = 0
  private ranAt = 0

  constructor(
    private readonly ctx: AudioContext,
    private readonly microphone: MediaStream,
    private readonly part: Tune,
  ) {
    this.from = ctx.createMediaStreamSource(microphone)
    this.into = ctx.createMediaStreamDestination()
    this.from.connect(this.into)
  }

  // load fetches a part. It throws where it is not there.
  static async load(ctx: AudioContext, address: string): Promise<Tune> {
    const answer = await fetch(address)
    if (!answer.ok) throw new Error(`the second part: ${answer.status}`)
    return decoded(ctx, await answer.arrayBuffer())
  }

  // stream is what has to be recorded: the microphone as the graph has it, and the picture as it is.
  stream(): MediaStream {
    return new MediaStream([...this.into.stream.getAudioTracks(), ...this.microphone.getVideoTracks()])
  }

  // begin is called when the recorder runs; the part starts after beats of a count-in, which are heard with it.
  begin(beats: number, bpm: number, tell: (beat: number) => void): void {
    const ctx = this.ctx
    this.ranAt = ctx.currentTime
    this.chirpAt = ctx.currentTime + chirpAfterS
    const wave = chirp(ctx.sampleRate)
    const buffer = ctx.createBuffer(1, wave.length, ctx.sampleRate)
    buffer.copyToChannel(wave, 0)
    const mark = ctx.createBufferSource()
    mark.buffer = buffer
    mark.connect(this.into) // into the recording, and to no loudspeaker
    mark.start(this.chirpAt)
    const countAt = this.chirpAt + 2 * chirpS + 0.3
    this.beatAt = count(ctx, beats, bpm, countAt, tell)
    this.source = ctx.createBufferSource()
    this.source.buffer = this.part.buffer
    this.source.connect(ctx.destination)
    const first = this.part.first / this.part.buffer.sampleRate // the mark before it is not played
    const head = Math.min(headS, first)
    this.source.start(this.beatAt - head, first - head)
  }

  end(): void {
    this.source?.stop()
    this.from.disconnect()
  }

  // place finds where the part lies in the recording with this id.
  async place(id: string): Promise<Placed> {
    const settings: MediaTrackSettings & { latency?: number } = this.microphone.getAudioTracks()[0]?.getSettings() ?? {}
    const latencyS = (this.ctx.outputLatency || 0) + (this.ctx.baseLatency || 0) + (settings.latency ?? 0)
    const at = await this.found(id)
    if (at === undefined) return { beatS: this.beatAt - this.ranAt + latencyS, latencyS, exact: false }
    return { beatS: at + this.beatAt - this.chirpAt + latencyS, latencyS, exact: true }
  }

  private async found(id: string): Promise<number | undefined> {
    try {
      const head = await file(id, 8) // its first two seconds
      const sound = await this.ctx.decodeAudioData(await head.arrayBuffer())
      const at = find(sound.getChannelData(0), sound.sampleRate)
      return at === undefined ? undefined : at / sound.sampleRate
    } catch {
      return undefined // this browser cannot decode what it recorded
    }
  }
}

// count makes the clicks of a count-in, the first one of a bar higher, and gives the moment when the bar
// after it begins. tell is called at each beat, to show it; the sound does not wait for it.
export function count(ctx: AudioContext, beats: number, bpm: number, at: number, tell: (beat: number) => void): number {
  const every = 60 / bpm
  for (let i = 0; i < beats; i++) {
    const t = at + i * every
    const tone = ctx.createOscillator()
    const loud = ctx.createGain()
    tone.frequency.value = i === 0 ? 1320 : 880
    loud.gain.setValueAtTime(0, t)
    loud.gain.linearRampToValueAtTime(0.25, t + 0.003)
    loud.gain.exponentialRampToValueAtTime(0.001, t + 0.06)
    tone.connect(loud).connect(ctx.destination)
    tone.start(t)
    tone.stop(t + 0.07)
    window.setTimeout(() => tell(i + 1), 1000 * (t - ctx.currentTime))
  }
  return at + beats * every
}
