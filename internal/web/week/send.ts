// send.ts: on the form that sends a recording, beside the island that uploads it. Whichever way to a file was
// used last fills the first field, it is said which file it is, and the caution opens with the box it belongs to.
export function mount(root: HTMLElement): () => void {
  const pickers = [...root.querySelectorAll<HTMLInputElement>('input[type=file]')]
  const first = pickers[0]
  const picked = root.querySelector<HTMLElement>('[data-picked]')
  const hurt = root.querySelector<HTMLInputElement>('[data-hurt]')
  const pain = root.querySelector<HTMLElement>('[data-pain]')
  if (!first || !picked) return () => {}

  const tell = (words: string) => {
    picked.textContent = words
    picked.hidden = words === ''
  }
  const change = (e: Event) => {
    const t = e.target
    if (t === hurt) pain?.classList.toggle('shown', hurt?.checked)
    if (!(t instanceof HTMLInputElement) || t.type !== 'file') return
    const file = t.files?.[0]
    if (!file) return
    if (t !== first) {
      const own = new DataTransfer() // the list of one field is emptied with it
      own.items.add(file)
      first.files = own.files
      t.value = ''
    }
    tell((picked.dataset.picked ?? '%s').replace('%s', file.name))
  }
  const submit = (e: Event) => {
    if (first.files?.length) {
      tell('')
      return
    }
    e.preventDefault()
    tell(picked.dataset.nothing ?? '')
  }
  root.addEventListener('change', change)
  root.addEventListener('submit', submit)
  return () => {
    root.removeEventListener('change', change)
    root.removeEventListener('submit', submit)
  }
}
