// _checks.ts says, while nobody records yet, whether the microphone hears enough and the picture is light
// enough. It answers in steps that a person can act on; the numbers are our choice.

export type Loudness = 'silent' | 'quiet' | 'good' | 'loud'

const silentDb = -50 // peaks below are a room without anybody playing
const quietDb = -32 // a guitar whose notes drown in a kitchen
const loudDb = -0.5 // the recorder cuts the tops of the wave off
const lasts = 4000 // ms that a peak counts

export class Meter {
  private readonly ear: AnalyserNode
  private readonly wave: Float32Array<ArrayBuffer>
  private readonly from: MediaStreamAudioSourceNode
  private peaks: { at: number; db: number }[] = []

  constructor(ctx: AudioContext, stream: MediaStream) {
    this.ear = ctx.createAnalyser()
    this.ear.fftSize = 8192 // longer than the time between two looks: no sample is missed
    this.wave = new Float32Array(this.ear.fftSize)
    this.from = ctx.createMediaStreamSource(stream)
    this.from.connect(this.ear)
  }

  // look gives the peak of the last moment, dB below full scale, at most 0, and how loud it was lately.
  look(now: number): { db: number; is: Loudness } {
    this.ear.getFloatTimeDomainData(this.wave)
    let peak = 0
    for (const v of this.wave) peak = Math.max(peak, Math.abs(v))
    const db = Math.min(0, 20 * Math.log10(Math.max(peak, 1e-6)))
    this.peaks = this.peaks.filter((p) => now - p.at < lasts)
    this.peaks.push({ at: now, db })
    const most = Math.max(...this.peaks.map((p) => p.db))
    return { db, is: most >= loudDb ? 'loud' : most >= quietDb ? 'good' : most >= silentDb ? 'quiet' : 'silent' }
  }

  end(): void {
    this.from.disconnect()
  }
}

export type Light = 'dark' | 'good'

const darkLuma = 55 // of 255, on average: faces and strings cannot be told apart any more

// lightOf looks at the picture that a camera gives; undefined where there is none yet.
export function lightOf(video: HTMLVideoElement): Light | undefined {
  if (video.videoWidth === 0) return undefined
  const canvas = document.createElement('canvas')
  canvas.width = 32
  canvas.height = 18
  const at = canvas.getContext('2d', { willReadFrequently: true })
  if (!at) return undefined
  at.drawImage(video, 0, 0, canvas.width, canvas.height)
  const { data } = at.getImageData(0, 0, canvas.width, canvas.height)
  let sum = 0
  for (let i = 0; i < data.length; i += 4) sum += 0.2126 * data[i]! + 0.7152 * data[i + 1]! + 0.0722 * data[i + 2]! // ITU-R BT.709
  return sum / (data.length / 4) < darkLuma ? 'dark' : 'good'
}
