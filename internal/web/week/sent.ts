// sent.ts: <div data-island="sent"> around <div data-part="/week/sent?child=…" data-student="…">: what became of
// the recordings, fetched again whenever the server says that something changed.
export function mount(root: HTMLElement): () => void {
  const parts = [...root.querySelectorAll<HTMLElement>('[data-part]')]
  if (!parts.length || !('EventSource' in window)) return () => {}
  const due = new Map<HTMLElement, number>()

  const look = async (part: HTMLElement) => {
    const answer = await fetch(part.dataset.part ?? '')
    if (!answer.ok) return
    const fresh = document.createElement('div')
    fresh.innerHTML = await answer.text()
    // The same words are not read aloud again, and nobody loses the place where they were.
    if (fresh.textContent?.trim() === part.textContent?.trim() || part.contains(document.activeElement)) return
    part.replaceChildren(...fresh.childNodes)
  }
  const soon = (part: HTMLElement) => {
    window.clearTimeout(due.get(part))
    due.set(part, window.setTimeout(() => { look(part).catch(() => {}) }, 300))
  }
  const told = (e: MessageEvent<string>) => {
    const { student } = JSON.parse(e.data) as { student?: string }
    for (const part of parts) if (!student || part.dataset.student === student) soon(part)
  }
  const shown = () => { if (!document.hidden) parts.forEach(soon) }

  const source = new EventSource('/live')
  source.addEventListener('take', told)
  source.addEventListener('open', shown) // something may have changed before the line stood, or while it was down
  document.addEventListener('visibilitychange', shown)
  return () => {
    source.close()
    due.forEach((timer) => window.clearTimeout(timer))
    document.removeEventListener('visibilitychange', shown)
  }
}
