// frame.ts: <div data-island="frame" data-media="/media/…" data-at="12.3" data-drawing="{…}"> shows one
// picture of a video with what the teacher drew on it.
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
  const box = document.createElement('div')
  box.className = 'frozen'
  box.append(video, new Drawing(drawn, false).svg)
  const words = document.createElement('p')
  words.className = 'small quiet'
  words.textContent = inWords(drawn)
  root.replaceChildren(box, words)
  return () => {
    video.removeAttribute('src')
    video.load()
  }
}
