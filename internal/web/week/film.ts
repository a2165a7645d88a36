// film.ts: <section data-island="film"> with the teacher's film: a link [data-at] goes to its chapter, and the film
// is kept on the phone where somebody wants that. Without it the links open the film at that moment by themselves.

import type { News } from './_worker'

export function mount(root: HTMLElement): () => void {
  const player = root.querySelector('video')
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
  if (keep && 'serviceWorker' in navigator) {
    navigator.serviceWorker.addEventListener('message', told)
    navigator.serviceWorker.startMessages()
    void navigator.serviceWorker.ready.then((r) => r.active?.postMessage({ ask: true }))
  }
  return () => {
    root.removeEventListener('click', click)
    navigator.serviceWorker?.removeEventListener('message', told)
  }
}
