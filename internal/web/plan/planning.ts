import { say } from '../page/_say'
import { lifting } from './_lift'

// planning.ts: <div data-island="planning"> of a student's plan. The forms work without it; with it something can be taken from
// one day to another, with a mouse or a finger, and the week is planned anew around it without a new page.
export function mount(root: HTMLElement): () => void {
  const gone = new AbortController()
  const signal = gone.signal

  const board = () => root.querySelector<HTMLElement>('#board')
  const days = () => [...root.querySelectorAll<HTMLElement>('ol.days > li[data-day]')]
  const titleOf = (thing: HTMLElement) => thing.querySelector('.title')?.textContent ?? 'It'

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
    ready()
    const stays = root.querySelector(`li[data-day="${to}"] .sitting[data-work="${work}"]`)
    say(stays ? `${title} is on another day now; the rest was planned around it.` : `${title} does not fit there: see what was left out, and why.`)
  }

  const ready = lifting(root, {
    things: '.sitting',
    place(x, y) {
      return days().find((d) => {
        const r = d.getBoundingClientRect()
        return r.left <= x && x < r.right && r.top <= y && y < r.bottom && !d.classList.contains('free')
      }) ?? null
    },
    lifted(thing) {
      say(`${titleOf(thing)} is lifted: take it to another day.`)
    },
    over(day) {
      for (const d of days()) d.classList.toggle('over', d === day)
    },
    put(thing, day) {
      const from = thing.closest<HTMLElement>('li[data-day]')?.dataset.day
      const to = day?.dataset.day
      if (!from || !to || to === from) {
        say(`${titleOf(thing)} stays where it was.`)
        return
      }
      move(thing.dataset.work ?? '', from, to, titleOf(thing)).catch(() => say('That did not work. Load the page again.'))
    },
  }, signal)
  ready()
  return () => gone.abort()
}
