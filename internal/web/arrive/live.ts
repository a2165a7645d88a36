// live.ts: <… data-island="live"> keeps the states of takes inside it fresh. What belongs to a take has
// data-take="ID": its data-state becomes the state, and the text of [data-state-words] inside becomes what
// its data-say-STATE says, or else the studio's words. With data-live-reload on the island the page is
// loaded anew when one of its takes gets to another state, unless somebody is writing on it.

interface Told {
  take: string
  student: string
  state: string
  say: string
  why?: string
}

export function mount(root: HTMLElement): () => void {
  const line = new EventSource('/live')
  line.addEventListener('take', (e) => {
    const t = JSON.parse((e as MessageEvent<string>).data) as Told
    for (const el of root.querySelectorAll<HTMLElement>(`[data-take="${CSS.escape(t.take)}"]`)) show(el, t)
    root.dispatchEvent(new CustomEvent<Told>('take', { detail: t }))
  })
  const show = (el: HTMLElement, t: Told): void => {
    const was = el.dataset.state
    el.dataset.state = t.state
    for (const words of el.querySelectorAll<HTMLElement>('[data-state-words]')) {
      const own = words.getAttribute(`data-say-${t.state}`) ?? el.getAttribute(`data-say-${t.state}`)
      const text = own ?? (t.why ? `${t.say}: ${t.why}` : t.say)
      if (words.textContent !== text) words.textContent = text
    }
    if (root.hasAttribute('data-live-reload') && was !== undefined && was !== t.state && !writing()) location.reload()
  }
  // A line that was refused (somebody signed out) stays closed; a lost one dials again by itself, and says
  // where it was. Back on a page that slept, look whether it still stands.
  const back = (): void => {
    if (document.visibilityState === 'visible' && line.readyState === EventSource.CLOSED && root.hasAttribute('data-live-reload') && !writing()) location.reload()
  }
  document.addEventListener('visibilitychange', back)
  return () => {
    document.removeEventListener('visibilitychange', back)
    line.close()
  }
}

function writing(): boolean {
  const at = document.activeElement
  return at instanceof HTMLTextAreaElement || (at instanceof HTMLInputElement && at.value !== '' && !['checkbox', 'radio', 'range', 'file', 'submit'].includes(at.type))
}
