// filming.ts: looks every few seconds whether the film of a lesson is made, and then shows it.
const every = 4000 // ms

export function mount(root: HTMLElement): () => void {
  const lesson = root.dataset.filmed ?? ''
  const look = async (): Promise<void> => {
    const answer = await fetch(`/lessons/${lesson}/film`, { headers: { Accept: 'text/html' }, redirect: 'error' })
    if (!answer.ok) return
    const fresh = document.createElement('template')
    fresh.innerHTML = await answer.text()
    const now = fresh.content.querySelector<HTMLElement>('[data-filmed]')
    if (!now || now.dataset.state === 'making') return
    window.clearInterval(timer)
    root.replaceWith(now)
    document.dispatchEvent(new Event('part'))
  }
  const timer = window.setInterval(() => void look().catch(() => undefined), every) // cut off: the next look asks again
  return () => window.clearInterval(timer)
}
