// notices.ts: <div data-island="notices" data-key="…" hidden> with a button that asks the browser for leave to tell when
// an answer is here. It asks once, when it is tapped, and stays hidden where the browser cannot.

export function mount(root: HTMLElement): () => void {
  const button = root.querySelector<HTMLButtonElement>('[data-subscribe]')
  const said = root.querySelector<HTMLElement>('[data-said]')
  if (!button || !('serviceWorker' in navigator) || !('PushManager' in window) || !('Notification' in window)) return () => {}
  root.hidden = false

  const subscribe = async (): Promise<void> => {
    if ((await Notification.requestPermission()) !== 'granted') throw new Error('not allowed')
    const worker = await navigator.serviceWorker.ready
    const own = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: root.dataset.key ?? '' })
    const answer = await fetch('/week/notices', { method: 'POST', headers: { Accept: 'application/json', 'Content-Type': 'application/json' }, body: JSON.stringify(own) })
    if (!answer.ok) throw new Error(String(answer.status))
    location.reload()
  }
  const click = (): void => {
    subscribe().catch(() => {
      if (said) said.textContent = root.dataset.failed ?? ''
    })
  }
  button.addEventListener('click', click)
  return () => button.removeEventListener('click', click)
}
