import { say } from '../page/_say'

const every = 1500 // ms between two looks

// again.ts: <p data-island="again" data-again="/…"> stands in a page while something is worked out. It
// looks at the address until the same page has an answer, and shows it; somebody who is changing the
// choices meanwhile is told instead.
export function mount(root: HTMLElement): () => void {
  const address = root.dataset.again ?? ''
  let touched = false
  let timer = 0
  const gone = new AbortController()
  document.addEventListener('input', () => { touched = true }, { signal: gone.signal })

  async function look(): Promise<void> {
    const answer = await fetch(address, { signal: gone.signal, headers: { Accept: 'text/html' } })
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html')
    if (answer.ok && page.querySelector('[data-island="again"]')) {
      later()
      return
    }
    if (!touched) {
      location.replace(address)
      return
    }
    const link = document.createElement('a')
    link.href = address
    link.textContent = 'The fingers are chosen: show them.'
    root.replaceChildren(link)
    say('The fingers are chosen.')
  }
  const later = (): void => { timer = window.setTimeout(() => look().catch(later), every) }
  later()
  return () => {
    window.clearTimeout(timer)
    gone.abort()
  }
}
