// phrases.ts: the teacher's own phrases beside a lesson. One is put in where the cursor was last, with its first blank
// marked, so that typing fills it; and the list is searched by words.
import { send } from '../page/_say'

export function mount(root: HTMLElement): () => void {
  const form = document.querySelector<HTMLFormElement>('form#lesson')
  let last: HTMLTextAreaElement | null = null
  const seen = (e: Event): void => {
    if (e.target instanceof HTMLTextAreaElement && form?.contains(e.target) && e.target.form === form) last = e.target
  }
  const place = (): HTMLTextAreaElement | null => {
    if (last?.isConnected && last.offsetParent) return last
    return form?.querySelector<HTMLTextAreaElement>('details[data-n][open] textarea[name^="do."]') ?? form?.querySelector<HTMLTextAreaElement>('textarea[name="words"]') ?? null
  }
  const press = (e: Event): void => {
    const b = (e.target as Element).closest('button[data-insert]')
    const line = b?.closest<HTMLElement>('[data-phrase]')
    const into = place()
    if (!b || !line || !into) return
    e.preventDefault()
    const text = line.querySelector('[data-text]')?.textContent ?? ''
    const at = into.selectionStart
    const before = into.value.slice(0, at)
    const put = (before && !/\s$/.test(before) ? ' ' : '') + text
    into.focus()
    into.setRangeText(put, at, into.selectionEnd, 'end')
    const blank = into.value.indexOf('…', at)
    if (blank >= 0 && blank < at + put.length) into.setSelectionRange(blank, blank + 1)
    into.dispatchEvent(new Event('input', { bubbles: true })) // it is saved like what is typed
    send<{ last: string }>(`/lessons/${root.dataset.lesson}/phrases/${line.dataset.phrase}/use`, {})
      .then((said) => {
        const when = line.querySelector('[data-last]')
        if (when) when.textContent = said.last
      })
      .catch(() => undefined) // the words are in; only when they were said is not noted
  }
  const seek = root.querySelector<HTMLInputElement>('#seek-phrase')
  const sought = (): void => {
    const words = (seek?.value ?? '').toLowerCase().trim()
    for (const line of root.querySelectorAll<HTMLElement>('[data-phrase]')) line.hidden = !(line.querySelector('[data-text]')?.textContent ?? '').toLowerCase().includes(words)
  }
  document.addEventListener('focusin', seen)
  root.addEventListener('click', press)
  seek?.addEventListener('input', sought)
  return () => {
    document.removeEventListener('focusin', seen)
    root.removeEventListener('click', press)
    seek?.removeEventListener('input', sought)
  }
}
