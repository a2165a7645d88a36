// notices.ts: <div data-island="notices" data-key="…" hidden> with a button that asks the browser for leave to tell when
// an answer is here. It asks once, when it is tapped, and stays hidden where the browser cannot.
import { can, onPress } from '../page/_leave'

export function mount(root: HTMLElement): () => void {
  const button = root.querySelector<HTMLButtonElement>('[data-subscribe]')
  const said = root.querySelector<HTMLElement>('[data-said]')
  if (!button || !can()) return () => {}
  root.hidden = false
  return onPress(button, {
    key: root.dataset.key ?? '',
    to: '/week/notices',
    worker: () => navigator.serviceWorker.ready,
    refused: () => {
      if (said) said.textContent = root.dataset.failed ?? ''
    },
  })
}
