// told.worker.ts is the service worker of the teacher's browser, at /studio/told.js: it shows a notice and opens what it
// is about. It answers no request and keeps nothing, so that the teacher's pages are always the server's.

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

interface Telling {
  registration: ServiceWorkerRegistration
  clients: { openWindow(to: string): Promise<unknown> }
  addEventListener(name: string, hear: (e: Event) => void): void
}

const worker = self as unknown as Telling

worker.addEventListener('push', (e) => {
  const n = (e as Pushed).data?.json()
  if (n) (e as Pushed).waitUntil(worker.registration.showNotification(n.title, { body: n.body, tag: n.tag ?? '', data: n.url ?? '/desk', icon: '/week/icon/192' }))
})

worker.addEventListener('notificationclick', (e) => {
  const { notification } = e as Clicked
  notification.close()
  const to = new URL(String(notification.data), location.origin)
  if (to.origin === location.origin) (e as Clicked).waitUntil(worker.clients.openWindow(to.href))
})
