import { say } from '../page/_say'

// planning.ts: <div data-island="planning"> of a student's plan. The forms work without it; with it something can be dragged
// from one day to another, and the week is planned anew around it without a new page.
export function mount(root: HTMLElement): () => void {
  const gone = new AbortController()
  const signal = gone.signal
  let dragged: { element: HTMLElement; work: string; from: string } | null = null

  const board = () => root.querySelector<HTMLElement>('#board')
  const dayOf = (e: Event) => (e.target as HTMLElement).closest<HTMLElement>('li[data-day]')
  const handles = () => {
    for (const s of root.querySelectorAll<HTMLElement>('.sitting')) s.draggable = true
  }
  const unmark = () => root.querySelectorAll('.over').forEach((d) => d.classList.remove('over'))

  async function move(work: string, from: string, to: string, title: string): Promise<void> {
    const at = board()?.dataset.at
    if (!at) return
    const answer = await fetch(at, { method: 'POST', body: new URLSearchParams({ do: 'move', work, from, to }), headers: { Accept: 'text/html, application/json' } })
    if (!answer.ok) {
      const words = await answer.json().catch(() => ({})) as { say?: string }
      say(words.say ?? 'That did not work. Load the page again.')
      return
    }
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html')
    const fresh = page.querySelector('.plan')
    if (!fresh) return location.reload()
    root.replaceChildren(...fresh.childNodes)
    handles()
    const stays = root.querySelector(`li[data-day="${to}"] .sitting[data-work="${work}"]`)
    say(stays ? `${title} is on another day now; the rest was planned around it.` : `${title} does not fit there: see what was left out, and why.`)
  }

  root.addEventListener('dragstart', (e) => {
    const element = (e.target as HTMLElement).closest<HTMLElement>('.sitting')
    const from = dayOf(e)?.dataset.day
    if (!element || !from) return
    dragged = { element, work: element.dataset.work ?? '', from }
    element.classList.add('dragged')
    e.dataTransfer?.setData('text/plain', element.textContent ?? '')
  }, { signal })
  root.addEventListener('dragover', (e) => {
    const over = dayOf(e)
    if (!dragged || !over || over.classList.contains('free')) return
    e.preventDefault()
    unmark()
    over.classList.add('over')
  }, { signal })
  root.addEventListener('drop', (e) => {
    const to = dayOf(e)?.dataset.day
    unmark()
    if (!dragged || !to || to === dragged.from) return
    e.preventDefault()
    const title = dragged.element.querySelector('.title')?.textContent ?? 'It'
    move(dragged.work, dragged.from, to, title).catch(() => say('That did not work. Load the page again.'))
  }, { signal })
  root.addEventListener('dragend', () => {
    dragged?.element.classList.remove('dragged')
    dragged = null
    unmark()
  }, { signal })
  handles()
  return () => gone.abort()
}
