// film.ts: <section data-island="film"> with the teacher's film: a link [data-at] goes to its chapter, and the film
// is kept on the phone where somebody wants that. One that was watched to its end is folded when the page is opened the
// next time: today's list comes first then. Without a script the links open the film at that moment by themselves.

import type { News } from './_worker'

const seenKey = 'antiphon-film-seen' // the last films that were watched here, the newest last
const mostSeen = 12
const nearly = 0.9 // of a film: the goodbye at its end is not waited for

const seen = (): string[] => {
  try {
    const all: unknown = JSON.parse(localStorage.getItem(seenKey) ?? '[]')
    return Array.isArray(all) ? all.map(String) : []
  } catch {
    return [] // a browser that keeps nothing, or nonsense: then the film stands open
  }
}

export function mount(root: HTMLElement): () => void {
  const player = root.querySelector<HTMLMediaElement>('video, audio')
  const fold = root.querySelector('details')
  const film = root.dataset.reel ?? ''
  if (fold && seen().includes(film)) fold.open = false
  const watched = (): void => {
    if (!player || !(player.currentTime >= nearly * player.duration) || seen().includes(film)) return
    try {
      localStorage.setItem(seenKey, JSON.stringify([...seen(), film].slice(-mostSeen)))
    } catch {
      // full or forbidden: it stands open the next time too
    }
  }
  const keep = root.querySelector<HTMLElement>('[data-film]')
  const address = keep?.dataset.film ?? ''
  const part = (name: string): HTMLElement | null => root.querySelector(`[data-film-${name}]`)
  const shown = (name: string): void => {
    for (const n of ['keep', 'coming', 'here', 'failed']) {
      const e = part(n)
      if (e) e.hidden = n !== name && !(n === 'keep' && name === 'failed')
    }
  }
  const ask = (wish: object): void => navigator.serviceWorker.controller?.postMessage(wish)

  const click = (e: Event): void => {
    const link = (e.target as Element).closest<HTMLElement>('[data-at]')
    if (link && player) {
      e.preventDefault()
      player.currentTime = Number(link.dataset.at)
      player.play().catch(() => player.focus())
      player.scrollIntoView({ block: 'nearest' })
    } else if ((e.target as Element).closest('button[data-film-keep]')) {
      shown('coming')
      ask({ film: address })
    } else if ((e.target as Element).closest('button[data-film-drop]')) ask({ drop: address })
  }
  const told = (e: MessageEvent<News>): void => {
    if (!keep) return
    if (e.data.films) {
      keep.hidden = false
      shown(e.data.films.includes(address) ? 'here' : 'keep')
    }
    if (e.data.failed === address) shown('failed')
  }
  root.addEventListener('click', click)
  player?.addEventListener('timeupdate', watched)
  if (keep && 'serviceWorker' in navigator) {
    navigator.serviceWorker.addEventListener('message', told)
    navigator.serviceWorker.startMessages()
    void navigator.serviceWorker.ready.then((r) => r.active?.postMessage({ ask: true }))
  }
  return () => {
    root.removeEventListener('click', click)
    player?.removeEventListener('timeupdate', watched)
    navigator.serviceWorker?.removeEventListener('message', told)
  }
}
