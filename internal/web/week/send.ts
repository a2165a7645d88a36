// send.ts: on the form that sends a recording, beside the island that uploads it. Of the three ways to a file
// only the one used last counts, it is said which file it is, and the caution opens with the box it belongs to.
export function mount(root: HTMLElement): () => void {
  const pickers = [...root.querySelectorAll<HTMLInputElement>('input[type=file]')]
  const picked = root.querySelector<HTMLElement>('[data-picked]')
  const hurt = root.querySelector<HTMLInputElement>('[data-hurt]')
  const pain = root.querySelector<HTMLElement>('[data-pain]')

  const change = (e: Event) => {
    const t = e.target
    if (t === hurt) pain?.classList.toggle('shown', hurt?.checked)
    if (!(t instanceof HTMLInputElement) || t.type !== 'file') return
    const file = t.files?.[0]
    if (file) for (const other of pickers) if (other !== t) other.value = ''
    if (!picked) return
    picked.hidden = !file
    if (file) picked.textContent = (picked.dataset.picked ?? '%s').replace('%s', file.name)
  }
  root.addEventListener('change', change)
  return () => root.removeEventListener('change', change)
}
