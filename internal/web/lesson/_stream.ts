// _stream.ts: what the teacher records of an item: the camera, the voice alone, or the screen with the score and the
// voice. A microphone is asked to leave music as it is.
import { asItIs } from '../record/_tape'

export type Way = 'film' | 'voice' | 'screen'

export interface Live {
  stream: MediaStream
  stop: () => void
}

const remembered = 'antiphon.devices'

interface Devices {
  camera?: string
  microphone?: string
}

/** chosen are the camera and the microphone that the teacher used last in this browser. */
export function chosen(): Devices {
  try {
    return JSON.parse(localStorage.getItem(remembered) ?? '{}') as Devices
  } catch {
    return {}
  }
}

export function choose(d: Devices): void {
  try {
    localStorage.setItem(remembered, JSON.stringify({ ...chosen(), ...d }))
  } catch {
    /* it is asked again next time */
  }
}

export function canShowScreen(): boolean {
  return !!navigator.mediaDevices && 'getDisplayMedia' in navigator.mediaDevices
}

const wanted = (id: string | undefined): MediaTrackConstraints => (id ? { deviceId: { ideal: id } } : {})

/** open asks for what is to be recorded. It throws what the browser says where somebody or something refuses. */
export async function open(way: Way): Promise<Live> {
  const { camera, microphone } = chosen()
  const audio = { ...asItIs, ...wanted(microphone) }
  if (way !== 'screen') {
    const stream = await navigator.mediaDevices.getUserMedia({
      audio,
      video: way === 'voice' ? false : { width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 30, max: 30 }, ...wanted(camera) },
    })
    return { stream, stop: () => end(stream) }
  }
  // The screen first: browsers allow it only right after a click.
  const screen = await navigator.mediaDevices.getDisplayMedia({ video: { frameRate: { ideal: 15, max: 30 } }, audio: false })
  try {
    const voice = await navigator.mediaDevices.getUserMedia({ audio })
    const stream = new MediaStream([...screen.getVideoTracks(), ...voice.getAudioTracks()])
    return { stream, stop: () => end(stream) }
  } catch (e) {
    end(screen)
    throw e
  }
}

function end(stream: MediaStream): void {
  for (const t of stream.getTracks()) t.stop()
}

/** why says in words what the browser means by its refusal. */
export function why(e: unknown): string {
  switch (e instanceof DOMException ? e.name : '') {
    case 'NotAllowedError':
      return 'The browser was not allowed to use the microphone, the camera or the screen. Allow it in the address bar, then press again.'
    case 'NotFoundError':
      return 'No microphone or camera was found. Plug one in, then press again.'
    case 'NotReadableError':
      return 'Another program is using the microphone or the camera. Close it there, then press again.'
  }
  return 'Recording did not begin. Press again, or load the page anew.'
}

/** level tells some times a second how loud the microphone is, 0 to 1, until the function that it gives is called. */
export function level(stream: MediaStream, tell: (peak: number) => void): () => void {
  const context = new AudioContext()
  const ear = context.createAnalyser()
  ear.fftSize = 2048
  context.createMediaStreamSource(stream).connect(ear)
  const wave = new Float32Array(ear.fftSize)
  const timer = window.setInterval(() => {
    ear.getFloatTimeDomainData(wave)
    tell(wave.reduce((most, x) => Math.max(most, Math.abs(x)), 0))
  }, 100)
  return () => {
    window.clearInterval(timer)
    void context.close()
  }
}
