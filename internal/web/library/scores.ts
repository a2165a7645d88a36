// scores.ts: <form data-island="scores"> takes scores that are dropped on it, as if they had been chosen.
export function mount(root: HTMLElement): () => void {
  const form = root as HTMLFormElement
  const field = form.querySelector<HTMLInputElement>('input[type=file]')
  if (!field) return () => {}
  const gone = new AbortController()
  const on = (name: string, does: (e: DragEvent) => void) =>
    form.addEventListener(name as 'drop', does, { signal: gone.signal })
  const over = (e: DragEvent) => {
    if (!e.dataTransfer?.types.includes('Files')) return
    e.preventDefault()
    form.classList.add('over')
  }
  on('dragenter', over)
  on('dragover', over)
  on('dragleave', (e) => {
    if (!form.contains(e.relatedTarget as Node | null)) form.classList.remove('over')
  })
  on('drop', (e) => {
    e.preventDefault()
    form.classList.remove('over')
    if (!e.dataTransfer?.files.length) return
    field.files = e.dataTransfer.files
    form.requestSubmit() // where the note on rights is missing, the browser asks for it
  })
  return () => gone.abort()
}
