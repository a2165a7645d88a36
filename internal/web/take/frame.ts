// frame.ts: <div data-island="frame" data-media="/media/…" data-at="12.3" data-drawing="{…}"> shows one
// picture of a video with what the teacher drew on it. The drawing is said in data-words, or in our own.
import { Drawing, inWords, readDrawn } from './_drawing'

export function mount(root: HTMLElement): () => void {
  const drawn = readDrawn(root.dataset.drawing)
  const media = root.dataset.media
  if (!drawn || !media) return () => undefined
  const video = document.createElement('video')
  video.muted = true
  video.playsInline = true
  video.preload = 'metadata'
  video.src = media
  video.setAttribute('aria-hidden', 'true')
  video.addEventListener('loadedmetadata', () => {
    video.currentTime = Number(root.dataset.at) || 0
  })
  const said = root.dataset.words || inWords(drawn)
  const box = document.createElement('div')
  box.className = 'frozen'
  const { svg } = new Drawing(drawn, false)
  svg.setAttribute('aria-label', said)
  box.append(video, svg)
  const words = document.createElement('p')
  words.className = 'small quiet'
  words.textContent = said
  words.setAttribute('aria-hidden', 'true') // the drawing says the same
  root.replaceChildren(box, words)
  return () => {
    video.removeAttribute('src')
    video.load()
  }
}
