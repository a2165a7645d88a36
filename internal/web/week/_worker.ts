// _worker.ts names what a service worker has, of which the browser's own types are for windows only.

export interface Extended extends Event {
  waitUntil(p: Promise<unknown>): void
}

export interface Fetched extends Extended {
  request: Request
  clientId: string
  resultingClientId: string
  respondWith(r: Promise<Response>): void
}

export interface Messaged extends Extended {
  data: Wish
  source: { id: string; postMessage(m: News): void } | null
}

/** What a page asks of the worker. */
export interface Wish {
  keep?: string // address of the page itself: it and what it names
  widths?: number[] // at which music is set on this screen
  film?: string // keep this one too
  drop?: string // and this one no more
  forget?: boolean // everything
  ask?: boolean // how things stand
}

/** What the worker tells pages. */
export interface News {
  stale?: boolean // this page came out of the cache: there was no network
  newer?: boolean // this page came out of the cache, and another one has come from the server since
  kept?: { missing: number } // all that the page names is here, but for so many
  films?: string[] // addresses of those that are here
  failed?: string // this film did not come whole
  gone?: boolean // everything is forgotten
}

export interface Worker {
  registration: ServiceWorkerRegistration
  clients: { claim(): Promise<void>; matchAll(): Promise<{ id: string; postMessage(m: News): void }[]>; openWindow(url: string): Promise<unknown> }
  skipWaiting(): Promise<void>
  addEventListener(kind: 'install' | 'activate' | 'sync' | 'push' | 'notificationclick', act: (e: Extended) => void): void
  addEventListener(kind: 'fetch', act: (e: Fetched) => void): void
  addEventListener(kind: 'message', act: (e: Messaged) => void): void
}
