// _tape.ts records from a microphone, and a camera, into the vault: piece by piece, so that whatever ends
// the recording ends it with what there is.

import { begin, finish, holds, keepChunk, NoRoom, type Plan, type Sort } from './_vault'

// In this order: what plays everywhere first; then what is recorded everywhere else; "" lets the browser choose.
const types: Record<'sound' | 'film', string[]> = {
  sound: ['audio/mp4;codecs=mp4a.40.2', 'audio/webm;codecs=opus', 'audio/ogg;codecs=opus'],
  film: ['video/mp4;codecs=avc1.42E01E,mp4a.40.2', 'video/webm;codecs=vp8,opus', 'video/webm'],
}

/** ms between two pieces: what a kill loses, with the time of a write, and on a busy phone of the encoder. */
const pieceMs = 250

/** Bits a second. A guitar's sound needs no more; a film is to be sent from a kitchen. Our choice. */
const soundBits = 128_000
const filmBits = 1_500_000

/** What a microphone must not do with music: cancel, clean and level it. */
export const asItIs: MediaTrackConstraints = { echoCancellation: false, noiseSuppression: false, autoGainControl: false }

export function canRecord(): boolean {
  return 'MediaRecorder' in window && !!navigator.mediaDevices && 'indexedDB' in window
}

// listen opens the microphone, and the camera where there is a picture.
export function listen(sort: Sort): Promise<MediaStream> {
  return navigator.mediaDevices.getUserMedia({
    audio: asItIs,
    video: sort === 'sound' ? false : { width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 30, max: 30 }, facingMode: { ideal: sort === 'hands' ? 'environment' : 'user' } },
  })
}

// bestType is what is recorded, '' for what the browser likes.
export function bestType(sort: Sort): string {
  return types[sort === 'sound' ? 'sound' : 'film'].find((t) => MediaRecorder.isTypeSupported(t)) ?? ''
}

// Ended is why a recording stopped: by its maker, at its longest, by another program that took the
// microphone or by the device, or because there is no room for more.
export type Ended = 'stopped' | 'longest' | 'interrupted' | 'full'

export interface Made {
  id: string
  seconds: number
  why: Ended
}

// Tape is one recording. What it has is in the vault, at any moment.
export class Tape {
  readonly id: string
  /** resolves when the recording is over and everything of it is kept. */
  readonly made: Promise<Made>
  private readonly recorder: MediaRecorder
  private readonly done: () => Promise<void>
  private why: Ended = 'stopped'
  private begun = 0
  private timer = 0
  private readonly undo: (() => void)[] = []

  // start begins a recording of a stream, of seconds at most. Plan is of what; its type is found here.
  static async start(stream: MediaStream, plan: Omit<Plan, 'type'>, longestS: number): Promise<Tape> {
    const mimeType = bestType(plan.sort)
    const recorder = new MediaRecorder(stream, { ...(mimeType ? { mimeType } : {}), audioBitsPerSecond: soundBits, ...(plan.sort === 'sound' ? {} : { videoBitsPerSecond: filmBits }) })
    const usual = plan.sort === 'sound' ? 'audio/webm' : 'video/webm'
    const id = await begin({ ...plan, type: recorder.mimeType || mimeType || usual })
    const tape = new Tape(id, recorder, stream, longestS)
    await tape.begins
    return tape
  }

  private readonly begins: Promise<void>

  private constructor(id: string, recorder: MediaRecorder, stream: MediaStream, longestS: number) {
    this.id = id
    this.recorder = recorder
    this.done = holds(id)
    this.begins = new Promise((resolve, reject) => {
      recorder.addEventListener('start', () => {
        this.begun = performance.now()
        resolve()
      })
      recorder.addEventListener('error', () => reject(new Error('the recorder did not start')))
    })
    recorder.addEventListener('dataavailable', (e) => {
      keepChunk(id, e.data, this.seconds).catch((x: unknown) => this.end(x instanceof NoRoom ? 'full' : 'interrupted'))
    })
    this.made = new Promise((resolve) => {
      recorder.addEventListener('stop', () => {
        const seconds = this.seconds
        window.clearTimeout(this.timer)
        for (const u of this.undo) u()
        finish(id, seconds)
          .catch(() => undefined) // no room even for that: then it is one that was cut
          .then(this.done)
          .then(() => resolve({ id, seconds, why: this.why }), () => resolve({ id, seconds, why: this.why }))
      })
    })
    // A call, or another program, takes the microphone: what there is stays, and is said to be so.
    for (const t of stream.getTracks()) this.on(t, 'ended', () => this.end('interrupted'))
    recorder.start(pieceMs)
    this.timer = window.setTimeout(() => this.end('longest'), longestS * 1000)
  }

  private on(at: EventTarget, what: string, act: () => void): void {
    at.addEventListener(what, act)
    this.undo.push(() => at.removeEventListener(what, act))
  }

  /** How long it is by now, in seconds. */
  get seconds(): number {
    return this.begun ? (performance.now() - this.begun) / 1000 : 0
  }

  end(why: Ended): void {
    if (this.recorder.state === 'inactive') return
    this.why = why
    this.recorder.stop()
  }
}
