// _speak.ts records a short spoken note in <div data-voice>: a button that begins, one that ends, and the sound to
// hear again before it is kept. The place stays hidden where the browser cannot record.

const longest = 120_000 // ms
const kinds = ['audio/mp4;codecs=mp4a.40.2', 'audio/webm;codecs=opus', 'audio/webm', 'audio/mp4']

export function speak(place: HTMLElement, keep: (sound: Blob, seconds: number) => Promise<void>): () => void {
  const part = <E extends HTMLElement>(name: string): E => place.querySelector<E>(name) as E
  const start = part<HTMLButtonElement>('[data-speak]')
  const stop = part<HTMLButtonElement>('[data-stop]')
  const spoken = part<HTMLElement>('[data-spoken]')
  const player = part<HTMLAudioElement>('audio')
  if (typeof MediaRecorder === 'undefined' || !('mediaDevices' in navigator)) return () => {}
  place.hidden = false

  let recorder: MediaRecorder | undefined
  let sound: Blob | undefined
  let seconds = 0
  let timer = 0

  const reset = (): void => {
    if (player.src) URL.revokeObjectURL(player.src)
    player.removeAttribute('src')
    sound = undefined
    spoken.hidden = true
    start.hidden = false
  }

  const begin = async (): Promise<void> => {
    const stream = await navigator.mediaDevices.getUserMedia({ audio: true })
    const type = kinds.find((k) => MediaRecorder.isTypeSupported(k))
    recorder = new MediaRecorder(stream, type ? { mimeType: type } : {})
    const parts: Blob[] = []
    const from = performance.now()
    recorder.addEventListener('dataavailable', (e) => parts.push(e.data))
    recorder.addEventListener('stop', () => {
      window.clearTimeout(timer)
      for (const t of stream.getTracks()) t.stop()
      seconds = (performance.now() - from) / 1000
      sound = new Blob(parts, { type: (recorder?.mimeType ?? '').split(';')[0] ?? '' })
      player.src = URL.createObjectURL(sound)
      stop.hidden = true
      spoken.hidden = false
      part<HTMLButtonElement>('[data-keepit]').focus()
    })
    recorder.start(1000)
    timer = window.setTimeout(end, longest)
    start.hidden = true
    stop.hidden = false
    stop.focus()
  }
  const end = (): void => {
    if (recorder?.state === 'recording') recorder.stop()
  }
  const click = (e: Event): void => {
    const b = e.target as Element
    if (b === start) begin().catch(() => { place.hidden = true }) // no microphone, or nobody wants it: writing is left
    else if (b === stop) end()
    else if (b.matches('[data-again]')) reset()
    else if (b.matches('[data-keepit]') && sound) void keep(sound, seconds).then(reset)
  }
  place.addEventListener('click', click)
  return () => {
    end()
    place.removeEventListener('click', click)
  }
}
