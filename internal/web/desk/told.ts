// told.ts: <div data-island="told" data-key="…"> with a button that asks this browser for leave to tell the teacher what
// has come. It asks once, when it is pressed; where the browser cannot, the page goes on saying so.
import { can, onPress } from '../page/_leave'

export function mount(root: HTMLElement): () => void {
  const button = root.querySelector<HTMLButtonElement>('[data-subscribe]')
  const offer = root.querySelector<HTMLElement>('[data-offer]')
  const said = root.querySelector<HTMLElement>('[data-said]')
  if (!button || !offer || !said || !can()) return () => {}
  offer.hidden = false
  said.textContent = ''
  return onPress(button, {
    key: root.dataset.key ?? '',
    to: '/studio/told',
    worker: async () => {
      const worker = await navigator.serviceWorker.register('/studio/told.js', { scope: '/studio/' })
      await awake(worker)
      return worker
    },
    refused: () => (said.textContent = 'This browser does not allow it. You can change that in its settings for this page.'),
  })
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
