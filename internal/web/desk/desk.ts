// desk.ts keeps the lists of the desk as the studio stands: when a take arrives, is heard or answered, the
// lists are asked for anew. Where the line is cut, the browser dials again by itself.

const settle = 400 // ms: several takes often change together

export function mount(root: HTMLElement): () => void {
  const from = root.dataset.from
  const place = root.querySelector<HTMLElement>('[data-standing]')
  if (!from || !place) return () => undefined
  let timer = 0
  const fetching = new AbortController()

  // put sets the new lists in and leaves the keyboard where it was.
  const put = (html: string): void => {
    if (html === place.innerHTML) return
    const held = document.activeElement instanceof HTMLElement && place.contains(document.activeElement) ? document.activeElement.id : ''
    place.innerHTML = html
    if (held) document.getElementById(held)?.focus({ preventScroll: true })
    document.dispatchEvent(new Event('part'))
  }
  const ask = async (): Promise<void> => {
    const answer = await fetch(from, { headers: { Accept: 'text/html' }, signal: fetching.signal, redirect: 'error' })
    if (answer.ok) put(await answer.text())
  }
  const soon = (): void => {
    window.clearTimeout(timer)
    timer = window.setTimeout(() => {
      ask().catch(() => undefined) // the line is cut: the next word of the studio asks again
    }, settle)
  }
  // A browser keeps few lines open to one place, so a page that nobody sees gives its own back.
  let line: EventSource | undefined
  const dial = (): void => {
    if (line || document.visibilityState !== 'visible') return
    line = new EventSource('/live')
    line.addEventListener('take', soon)
  }
  const hangUp = (): void => {
    line?.close()
    line = undefined
  }
  const turned = (): void => {
    if (document.visibilityState !== 'visible') {
      hangUp()
      return
    }
    dial()
    soon() // what happened meanwhile was not told
  }
  dial()
  document.addEventListener('visibilitychange', turned)
  return () => {
    hangUp()
    fetching.abort()
    window.clearTimeout(timer)
    document.removeEventListener('visibilitychange', turned)
  }
}
