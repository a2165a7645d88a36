// keep.ts: print and copy the recovery codes of the page.
import { say } from '../page/_say'

export function mount(root: HTMLElement): () => void {
  const undo = new AbortController()
  const on = (what: string, act: () => void) =>
    root.querySelector(`[${what}]`)?.addEventListener('click', act, { signal: undo.signal })
  on('data-print', () => window.print())
  on('data-copy', () => {
    const codes = [...document.querySelectorAll('.codes code')].map((c) => c.textContent ?? '').join('\n')
    navigator.clipboard.writeText(codes).then(
      () => say('The codes are copied. Put them where only you find them.'),
      () => say('This browser does not let the page copy. Write the codes down.'),
    )
  })
  return () => undo.abort()
}
