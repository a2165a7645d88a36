import { say } from '../page/_say'

// order.ts: <ol data-island="order"> of a collection. Its buttons work without it; with it a step moves
// without a new page, the keyboard stays where it is, and steps can be dragged.
export function mount(first: HTMLElement): () => void {
  const frame = first.parentElement
  if (!frame) return () => {}
  const gone = new AbortController()
  const signal = gone.signal
  let dragged: HTMLElement | null = null

  const stepOf = (e: Event) => (e.target as HTMLElement).closest<HTMLElement>('li[data-work]')
  const handles = () => {
    for (const step of frame.querySelectorAll<HTMLElement>('li[data-work]')) step.draggable = true
  }

  async function move(form: HTMLFormElement, place: string): Promise<void> {
    const body = new URLSearchParams({ do: 'move', place })
    const answer = await fetch(form.action, { method: 'POST', body, headers: { Accept: 'text/html, application/json' } })
    if (!answer.ok) {
      const words = await answer.json().catch(() => ({})) as { say?: string }
      say(words.say ?? 'That did not work. Load the page again.')
      return
    }
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html')
    const order = page.getElementById('order')
    if (!order) return location.reload()
    const moved = order.querySelector<HTMLElement>('li.moved')
    const pressed = order.querySelector<HTMLElement>('[autofocus]')
    pressed?.removeAttribute('autofocus')
    frame!.replaceChildren(...order.childNodes)
    handles()
    pressed?.focus()
    if (moved) say(`${moved.querySelector('.title')?.textContent ?? 'It'} is at place ${moved.dataset.place ?? ''} now.`)
  }
  const fails = () => say('That did not work. Load the page again.')

  frame.addEventListener('submit', (e) => {
    const form = e.target as HTMLFormElement
    if (!form.classList.contains('move')) return
    const button = (e as SubmitEvent).submitter as HTMLButtonElement | null
    const place = button?.name === 'place' ? button.value : form.querySelector<HTMLInputElement>('input[name=place]')?.value
    if (!place) return
    e.preventDefault()
    move(form, place).catch(fails)
  }, { signal })

  frame.addEventListener('dragstart', (e) => {
    dragged = stepOf(e)
    dragged?.classList.add('dragged')
    e.dataTransfer?.setData('text/plain', dragged?.querySelector('.title')?.textContent ?? '')
  }, { signal })
  const unmark = () => frame.querySelectorAll('.before').forEach((s) => s.classList.remove('before'))
  frame.addEventListener('dragover', (e) => {
    const over = stepOf(e)
    if (!dragged || !over) return
    e.preventDefault()
    unmark()
    over.classList.add('before')
  }, { signal })
  frame.addEventListener('drop', (e) => {
    const over = stepOf(e)
    unmark()
    if (!dragged || !over || over === dragged) return
    e.preventDefault()
    const from = Number(dragged.dataset.place)
    const to = Number(over.dataset.place)
    const form = dragged.querySelector<HTMLFormElement>('form.move')
    if (form) move(form, String(from < to ? to - 1 : to)).catch(fails)
  }, { signal })
  frame.addEventListener('dragend', () => {
    dragged?.classList.remove('dragged')
    dragged = null
    unmark()
  }, { signal })
  handles()
  return () => gone.abort()
}
