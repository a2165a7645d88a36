// sw.worker.ts is the service worker of the family's pages, at /week/sw.js: once a week was opened it is there
// without a network: pages, music, sounds and clips, and the films that somebody chose. It shows what the server
// says wherever there is one in time, and sends what was tapped and recorded when the network comes back.
//
// It keeps for one person; a phone that is signed out, or is another's, keeps nothing.

import { sendWaiting } from '../record/_send'
import { flush } from './_log'
import { films, find, forget, Keeping, keyOf, measure, mine, missing, pages, ranged } from './_shelf'
import type { Fetched, News, Wish, Worker } from './_worker'

const worker = self as unknown as Worker
const patience = 3000 // ms that a kept page waits for a newer one
const stale = new Set<string>() // windows that show a page out of the cache
const newer = new Set<string>() // those of them for which another page has come since

worker.addEventListener('install', (e) => e.waitUntil(worker.skipWaiting()))

worker.addEventListener('activate', (e) => {
  const tidy = async (): Promise<void> => {
    for (const name of await caches.keys()) if (name.startsWith('antiphon-') && name !== pages && name !== films) await caches.delete(name)
    await worker.clients.claim()
  }
  e.waitUntil(tidy())
})

worker.addEventListener('sync', (e) => {
  const all = async (): Promise<void> => {
    const [tapped] = await Promise.all([flush(), sendWaiting()])
    if (!tapped.all) throw new Error('not yet') // the browser tries again
  }
  e.waitUntil(all())
})

worker.addEventListener('fetch', (e) => {
  const u = new URL(e.request.url)
  if (e.request.method !== 'GET' || u.origin !== location.origin) return
  if (e.request.mode === 'navigate') e.respondWith(page(e))
  else if (/^\/(assets|media|week\/sound)\//.test(u.pathname)) e.respondWith(kept(e))
  else if (u.pathname.startsWith('/sheets/')) e.respondWith(fresh(e.request))
})

/** page shows what the server has, or what is kept where there is no network. */
async function page(e: Fetched): Promise<Response> {
  // A store that does not answer, or is full, must not hold up the page.
  const here = await looked(e.request.url)
  const before = here?.clone()
  const coming = fetch(e.request)
  let late = false
  // What comes too late to be shown is there the next time, and the page that is open is told.
  const put = (): void => void (late && overtaken(e.resultingClientId))
  e.waitUntil(coming.then((answer) => putAway(e.request.url, answer.clone(), before, put)).catch(() => undefined))
  try {
    const answer = await inTime(coming, here !== undefined)
    stale.delete(e.resultingClientId)
    return answer
  } catch (err) {
    late = true
    const instead = here ?? (await looked('/week/away'))
    if (!instead) throw err
    stale.add(e.resultingClientId)
    return instead
  }
}

/** looked is what is kept at an address, as far as the store says so in time. */
const looked = (address: string): Promise<Response | undefined> => inTime(find(address), true).catch(() => undefined)

async function putAway(address: string, answer: Response, before: Response | undefined, put: () => void): Promise<void> {
  if ((await mine(answer)) && keyOf(address).includes('/week')) await renew(address, answer, before, put)
}

/** overtaken tells a window that what it shows is not the newest any more. */
async function overtaken(id: string): Promise<void> {
  stale.delete(id)
  newer.add(id)
  for (const c of await worker.clients.matchAll()) if (c.id === id) c.postMessage({ stale: false, newer: true })
}

const isWeek = (address: string): boolean => new URL(address, location.origin).pathname === '/week'

/**
 * renew keeps a page that has changed since it was kept; the week itself with everything, others only where the week
 * names them. put is called once a changed page is there to be shown.
 */
async function renew(address: string, answer: Response, before: Response | undefined, put: () => void): Promise<void> {
  const same = before !== undefined && (await before.clone().text()) === (await answer.clone().text())
  if (isWeek(address)) {
    if (same && (await missing()) === 0) return
    await keep(address, answer, same ? undefined : put)
  } else if (before) {
    await (await caches.open(pages)).put(keyOf(address), answer)
    if (!same) put()
  }
}

let keeping: Promise<void> | undefined

async function keep(address: string, first?: Response, put?: () => void): Promise<void> {
  await keeping
  const act = async (): Promise<void> => {
    await new Keeping((key) => key === keyOf(address) && put?.()).whole(address, first)
    await tell({ kept: { missing: await missing() } })
  }
  keeping = act().finally(() => {
    keeping = undefined
  })
  await keeping
}

/** kept answers from the cache, since the address names what it is; a sound that changed is fetched with the week. */
async function kept(e: Fetched): Promise<Response> {
  const here = await looked(e.request.url)
  return here ? ranged(e.request, here) : fetch(e.request)
}

/** fresh answers from the server, or from the cache where there is none in time. */
async function fresh(request: Request): Promise<Response> {
  const here = await looked(request.url)
  try {
    return await inTime(fetch(request), here !== undefined)
  } catch (err) {
    if (!here) throw err
    return ranged(request, here)
  }
}

/** inTime gives up on what hangs, where there is something else to show. */
function inTime<T>(answer: Promise<T>, hurry: boolean): Promise<T> {
  if (!hurry) return answer
  return Promise.race([answer, new Promise<never>((_, reject) => setTimeout(() => reject(new Error('too slow')), patience))])
}

async function tell(news: News): Promise<void> {
  for (const c of await worker.clients.matchAll()) c.postMessage(news)
}

const chosen = async (): Promise<string[]> => (await (await caches.open(films)).keys()).map((r) => new URL(r.url).pathname)

async function film(address: string): Promise<void> {
  try {
    const answer = await fetch(address)
    if (!answer.ok || !(await mine(answer))) throw new Error('not to be kept')
    await (await caches.open(films)).put(keyOf(address), answer)
    await tell({ films: await chosen() })
  } catch {
    await tell({ failed: address })
  }
}

async function grant(wish: Wish, from: { id: string; postMessage(m: News): void } | null): Promise<void> {
  if (wish.widths) await measure(wish.widths)
  if (wish.ask) from?.postMessage({ stale: stale.has(from.id), newer: newer.has(from.id), films: await chosen(), kept: { missing: await missing() } })
  if (wish.keep && ((await missing()) > 0 || !(await find(wish.keep)))) await keep(wish.keep)
  if (wish.film) await film(wish.film)
  if (wish.drop) {
    await (await caches.open(films)).delete(keyOf(wish.drop))
    await tell({ films: await chosen() })
  }
  if (wish.forget) {
    await forget()
    await tell({ gone: true })
  }
}

worker.addEventListener('message', (e) => e.waitUntil(grant(e.data, e.source)))

/** What a notice says; it names no child. */
interface Notice {
  title: string
  body: string
  url?: string
  tag?: string
}

interface Pushed extends Event {
  data?: { json(): Notice }
  waitUntil(p: Promise<unknown>): void
}

interface Clicked extends Event {
  notification: Notification
  waitUntil(p: Promise<unknown>): void
}

worker.addEventListener('push', (e) => {
  const n = (e as Pushed).data?.json()
  if (n) e.waitUntil(worker.registration.showNotification(n.title, { body: n.body, tag: n.tag ?? '', data: n.url ?? '/week', icon: '/week/icon/192' }))
})

worker.addEventListener('notificationclick', (e) => {
  const { notification } = e as Clicked
  notification.close()
  const to = new URL(String(notification.data), location.origin)
  if (to.origin === location.origin) e.waitUntil(worker.clients.openWindow(to.href))
})
