// stay.ts: the form that signs this phone out. What was recorded or tapped and is not sent yet lies only here, and
// goes with the signing out: that is said first, and a second press does it.
import { everything } from '../arrive/_outbox'
import { takes } from '../record/_vault'
import { kept } from '../week/_log'

async function unsent(): Promise<boolean> {
  const lists = await Promise.all([everything(), takes({ kind: 'take' }), kept().then((all) => all.filter((t) => !t.sent && !t.refused))].map((l) => (l as Promise<unknown[]>).catch(() => [])))
  return lists.some((l) => l.length > 0)
}

export function mount(root: HTMLElement): () => void {
  const form = root as HTMLFormElement
  const said = root.querySelector<HTMLElement>('[data-unsent]')
  const button = root.querySelector<HTMLButtonElement>('button')
  if (!said || !button) return () => {}
  const submit = (e: Event): void => {
    if (!said.hidden) return
    e.preventDefault()
    void unsent().then((some) => {
      if (!some) return form.submit()
      said.hidden = false
      button.textContent = said.dataset.anyway ?? ''
      button.focus()
    })
  }
  form.addEventListener('submit', submit)
  return () => form.removeEventListener('submit', submit)
}
