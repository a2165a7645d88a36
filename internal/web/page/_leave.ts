// _leave.ts asks a browser for leave to tell what has come, when a button is pressed and not before, and gives the address
// that the browser then has to the site. The page is loaded anew once that is kept.

export interface Asks {
  key: string // of the site, for the browser's push service
  to: string // where the address is kept
  worker(): Promise<ServiceWorkerRegistration>
  refused(): void // or not reached
}

/** can says whether this browser can be told anything. */
export function can(): boolean {
  return 'serviceWorker' in navigator && 'PushManager' in window && 'Notification' in window
}

export function onPress(button: HTMLButtonElement, asks: Asks): () => void {
  const subscribe = async (): Promise<void> => {
    if ((await Notification.requestPermission()) !== 'granted') throw new Error('not allowed')
    const worker = await asks.worker()
    const own = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: asks.key })
    const answer = await fetch(asks.to, { method: 'POST', headers: { Accept: 'application/json', 'Content-Type': 'application/json' }, body: JSON.stringify(own) })
    if (!answer.ok) throw new Error(String(answer.status))
    location.reload()
  }
  const click = (): void => {
    button.disabled = true
    subscribe().catch(() => {
      button.disabled = false
      asks.refused()
    })
  }
  button.addEventListener('click', click)
  return () => button.removeEventListener('click', click)
}
