// _way.ts shows recordings on their way to the studio, and sends them while the page is open.

import type { Parcel } from '../arrive/_outbox'
import { Refused } from '../arrive/_sender'
import { deliver } from './_send'
import { fill, type Words } from './_words'

// Ends is what becomes of a recording that this page sends.
export interface Ends {
  arrived(take: string, before: boolean): void
  back(): void // it was stopped, or not taken: it is in the vault as before
}

export function onWay(place: HTMLElement, p: Parcel, words: Words, ends: Ends): void {
  const row = document.createElement('div')
  const text = document.createElement('p')
  const bar = document.createElement('progress')
  bar.max = Math.max(1, p.size)
  bar.value = 0
  bar.setAttribute('aria-label', p.name)
  const line = (say: string | undefined): void => {
    const all = say ?? ''
    if (text.textContent !== all) text.textContent = all
  }
  let share = -1
  const tools = document.createElement('p')
  tools.className = 'buttons'
  line(fill(words['up.sending'], { sent: mb(0), all: mb(p.size) }))
  const d = deliver(p, {
    moved: (sent, all) => {
      bar.value = sent
      const now = Math.floor((10 * sent) / Math.max(1, all)) // so that a screen reader is not talked over
      if (now === share) return
      share = now
      hurry.hidden = true
      line(fill(words['up.sending'], { sent: mb(sent), all: mb(all) }))
    },
    elsewhere: () => line(words['up.elsewhere']),
    waits: (full) => {
      share = -1
      hurry.hidden = false
      line(full ? words['up.full'] : words['up.waits'])
    },
  })
  const stop = button(words['up.stop'], () => d.stop())
  const hurry = button(words['up.hurry'], () => d.hurry())
  hurry.hidden = true
  tools.append(stop, hurry)
  row.append(text, bar, tools)
  place.append(row)
  place.hidden = false
  d.done.then(
    (end) => {
      bar.remove()
      tools.remove()
      if (end instanceof Refused) line(fill(words['up.refused'], { why: end.message }))
      else if (end instanceof Error) line(words['up.stopped'])
      else line(end.before ? words['up.before'] : words['up.here'])
      if (end instanceof Error) ends.back()
      else ends.arrived(end.take, end.before)
    },
    () => line(words['up.waits']), // it is in the outbox: the next page, or the browser, goes on
  )
}

function button(words: string | undefined, act: () => void): HTMLButtonElement {
  const b = document.createElement('button')
  b.type = 'button'
  b.className = 'text'
  b.textContent = words ?? ''
  b.addEventListener('click', act)
  return b
}

function mb(bytes: number): string {
  return (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)
}
