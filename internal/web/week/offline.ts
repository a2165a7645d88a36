// offline.ts: <footer data-island="offline"> at the foot of the family's pages: it brings the service worker, has this
// week kept on the phone, sends what was tapped, and says in words when there is no network, or a newer page has come.
//
// Without it the pages need a network, and nothing else changes.

import { flush } from './_log'
import type { News } from './_worker'

const again = 30_000 // ms between tries while the page is open

/** Asking to be put on the home screen, where the browser lets a page do so. */
interface Installable extends Event {
  prompt(): Promise<void>
}

/** The width classes of sheets, as sheet.ts has them. */
const classes = [360, 560, 900, 1200]

function widths(): number[] {
  const all = [...document.querySelectorAll<HTMLElement>('.sheet')].map((e) => e.clientWidth).filter((w) => w > 0)
  const near = (width: number): number => classes.reduce((best, c) => (Math.abs(Math.log(width / c)) < Math.abs(Math.log(width / best)) ? c : best))
  return [...new Set([...all, Math.min(innerWidth - 32, 700)].map(near))]
}

export function mount(root: HTMLElement): () => void {
  const part = (name: string): HTMLElement | null => root.querySelector(`[data-${name}]`)
  const strip = part('strip')
  const install = part('install')
  const newer = part('newer')
  for (const e of [strip, newer]) if (e) document.getElementById('main')?.before(e)
  let stale = false
  let later = 0

  // What was still being made is asked for again, as long as the page is open.
  const keep = (): void => {
    navigator.serviceWorker.ready
      .then((r) => r.active?.postMessage({ ask: true, widths: widths(), ...(location.pathname === '/week' ? { keep: location.href } : {}) }))
      .catch(() => undefined) // a browser that keeps nothing: the pages need a network
  }
  const tell = (): void => {
    if (strip) strip.hidden = navigator.onLine && !stale
  }
  // Only what was sent shows that the network is back, or the browser that saw it come: a phone may think itself
  // online where nothing can be reached.
  const send = (back: boolean): void => {
    void flush().then(({ all, any }) => {
      if (all && (any || back) && navigator.onLine) stale = false
      tell()
    })
  }
  const online = (): void => send(true)
  const shown = (): void => {
    if (document.visibilityState === 'visible') send(false)
  }
  const told = (e: MessageEvent<News>): void => {
    if (e.data.stale !== undefined) stale = e.data.stale
    if (e.data.newer && newer) newer.hidden = false
    const here = part('kept')
    if (e.data.kept && here) {
      here.hidden = e.data.kept.missing > 0
      window.clearTimeout(later)
      if (here.hidden && location.pathname === '/week') later = window.setTimeout(keep, again)
    }
    tell()
  }
  let wish: Installable | undefined
  const installable = (e: Event): void => {
    wish = e as Installable
    if (install) install.hidden = false
  }
  const click = (e: Event): void => {
    if ((e.target as Element).closest('[data-install] button')) {
      void wish?.prompt()
      if (install) install.hidden = true
    }
  }

  const show = (e: Event): void => {
    if ((e.target as Element).closest('button')) location.reload()
  }

  window.addEventListener('online', online)
  window.addEventListener('offline', tell)
  window.addEventListener('beforeinstallprompt', installable)
  document.addEventListener('visibilitychange', shown)
  root.addEventListener('click', click)
  newer?.addEventListener('click', show)
  const timer = window.setInterval(shown, again)
  tell()
  send(false)

  if ('serviceWorker' in navigator && /^\/week(\/|$)/.test(location.pathname)) {
    navigator.serviceWorker.addEventListener('message', told)
    navigator.serviceWorker.startMessages()
    navigator.serviceWorker
      .register('/week/sw.js', { scope: '/week' })
      .then(keep)
      .catch(() => undefined)
  }
  return () => {
    window.clearInterval(timer)
    window.clearTimeout(later)
    window.removeEventListener('online', online)
    window.removeEventListener('offline', tell)
    window.removeEventListener('beforeinstallprompt', installable)
    document.removeEventListener('visibilitychange', shown)
    root.removeEventListener('click', click)
    newer?.removeEventListener('click', show)
    navigator.serviceWorker?.removeEventListener('message', told)
  }
}
