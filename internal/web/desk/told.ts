// told.ts: <div data-island="told" data-key="…"> with a button that asks this browser for leave to tell the teacher what
// has come. It asks once, when it is pressed; where the browser cannot, the page goes on saying so.

export function mount(root: HTMLElement): () => void {
  const button = root.querySelector<HTMLButtonElement>('[data-subscribe]')
  const offer = root.querySelector<HTMLElement>('[data-offer]')
  const said = root.querySelector<HTMLElement>('[data-said]')
  if (!button || !offer || !said || !('serviceWorker' in navigator) || !('PushManager' in window) || !('Notification' in window)) return () => {}
  offer.hidden = false
  said.textContent = ''

  const subscribe = async (): Promise<void> => {
    if ((await Notification.requestPermission()) !== 'granted') throw new Error('not allowed')
    const worker = await navigator.serviceWorker.register('/studio/told.js', { scope: '/studio/' })
    await awake(worker)
    const own = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: root.dataset.key ?? '' })
    const answer = await fetch('/studio/told', { method: 'POST', headers: { Accept: 'application/json', 'Content-Type': 'application/json' }, body: JSON.stringify(own) })
    if (!answer.ok) throw new Error(String(answer.status))
    location.reload()
  }
  const click = (): void => {
    button.disabled = true
    subscribe().catch(() => {
      button.disabled = false
      said.textContent = 'This browser does not allow it. You can change that in its settings for this page.'
    })
  }
  button.addEventListener('click', click)
  return () => button.removeEventListener('click', click)
}

/** awake waits until a worker that is just being installed can be told something. */
function awake(r: ServiceWorkerRegistration): Promise<void> {
  const coming = r.installing ?? r.waiting
  if (r.active || !coming) return Promise.resolve()
  return new Promise((done, fail) => {
    coming.addEventListener('statechange', () => {
      if (coming.state === 'activated') done()
      if (coming.state === 'redundant') fail(new Error('the worker was not taken on'))
    })
  })
}
