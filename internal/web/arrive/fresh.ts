// fresh.ts: <div data-island="fresh" data-from="ADDRESS" data-while="SELECTOR"> asks for its own content
// anew every few seconds while something inside matches the selector, and nobody has the keyboard in it.

const every = 2500 // ms

export function mount(root: HTMLElement): () => void {
  const { from, while: still } = root.dataset
  if (!from || !still) return () => undefined
  const ask = async (): Promise<void> => {
    if (!root.querySelector(still) || root.contains(document.activeElement) || document.visibilityState !== 'visible') return
    const playing = [...root.querySelectorAll('audio')].some((a) => !a.paused)
    if (playing) return
    const answer = await fetch(from, { headers: { Accept: 'text/html' }, redirect: 'error' })
    if (answer.ok && !root.contains(document.activeElement)) root.innerHTML = await answer.text()
  }
  const timer = window.setInterval(() => {
    ask().catch(() => undefined) // the next one asks again
  }, every)
  return () => window.clearInterval(timer)
}
