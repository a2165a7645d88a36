// copy.ts: <button data-copy="ID"> puts the text of the field with that id on the clipboard.
import { say } from '../page/_say'

export function mount(root: HTMLElement): () => void {
  const press = (e: Event): void => {
    const button = (e.target as HTMLElement).closest<HTMLElement>('[data-copy]')
    if (!button) return
    const field = document.getElementById(button.dataset.copy ?? '') as HTMLInputElement | HTMLTextAreaElement | null
    if (!field) return
    const selected = (): void => {
      field.focus()
      field.select()
      say('It is marked now: copy it with your browser.')
    }
    if (!navigator.clipboard) selected()
    else navigator.clipboard.writeText(field.value).then(() => say('Copied.'), selected)
  }
  root.addEventListener('click', press)
  return () => root.removeEventListener('click', press)
}
