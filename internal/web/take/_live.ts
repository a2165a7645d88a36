// _live.ts keeps the page as the studio stands: when the take was heard, or a correction has changed what
// was heard, the parts of the page that say so are put in anew. The sound plays on.

const settle = 300 // ms

/** Puts the parts of a fresh copy of the page into this one. Music that is there already stays. */
export async function renewParts(root: HTMLElement, only?: string[]): Promise<void> {
  const answer = await fetch(location.href, { headers: { Accept: 'text/html' } })
  if (!answer.ok) return
  const fresh = new DOMParser().parseFromString(await answer.text(), 'text/html')
  for (const part of root.querySelectorAll<HTMLElement>('[data-part]')) {
    const name = part.dataset.part ?? ''
    if (only && !only.includes(name)) continue
    const now = fresh.querySelector<HTMLElement>(`[data-part="${CSS.escape(name)}"]`)
    if (!now) continue
    const music = part.querySelector<HTMLElement>('.sheet')
    if (music && music.dataset.source === now.querySelector<HTMLElement>('.sheet')?.dataset.source) continue
    const at = document.activeElement instanceof HTMLElement && part.contains(document.activeElement) ? document.activeElement : null
    if (at?.matches('textarea, input, select') && !only) continue // somebody is writing there
    const held = at?.id ?? ''
    part.replaceChildren(...[...now.childNodes].map((n) => document.importNode(n, true)))
    if (held) document.getElementById(held)?.focus({ preventScroll: true })
  }
  const state = fresh.querySelector<HTMLElement>('.take-page')?.dataset.state
  if (state) root.dataset.state = state
  document.dispatchEvent(new Event('part'))
}

/** Listens to the studio's own news about this take. */
export function watchTake(root: HTMLElement, changed: () => void): () => void {
  const id = root.dataset.take ?? ''
  const news = new EventSource('/live')
  let timer = 0
  const heardOf = (e: MessageEvent<string>): void => {
    try {
      if ((JSON.parse(e.data) as { take?: string }).take !== id) return
    } catch {
      return
    }
    window.clearTimeout(timer)
    timer = window.setTimeout(() => {
      renewParts(root).then(changed, () => undefined)
    }, settle)
  }
  news.addEventListener('take', heardOf)
  return () => {
    news.close()
    window.clearTimeout(timer)
  }
}
