// pending.ts: <div data-island="pending" data-child data-words>: what of a child's recordings is on its way,
// was not finished, or was not sent yet. It is hidden where there is nothing. What sends is loaded only where
// there is something to send.

import { everything, type Parcel } from '../arrive/_outbox'
import { type Taken, takes } from './_vault'
import { fill, onDay, type Words } from './_words'

export function mount(root: HTMLElement): () => void {
  const words = JSON.parse(root.dataset.words ?? '{}') as Words
  const child = root.dataset.child ?? ''
  const news = new BroadcastChannel('antiphon-parcels')
  const way = document.createElement('div')
  way.className = 'going'
  const list = document.createElement('ul')
  list.className = 'plain'
  root.append(way, list)
  const shown = new Set<string>()

  const look = async (): Promise<void> => {
    const all = (await everything()).filter((p) => p.held && p.said.child === child)
    for (const p of all) if (!shown.has(p.id)) await send(p)
    const sent = new Set(all.map((p) => p.id))
    const here = (await takes({ kind: 'take', child })).filter((t) => t.state !== 'making' && !sent.has(t.id))
    list.replaceChildren(...lines(here))
    root.hidden = all.length === 0 && here.length === 0 && way.childElementCount === 0
  }

  const send = async (p: Parcel): Promise<void> => {
    shown.add(p.id)
    const { onWay } = await import('./_way')
    const lead = document.createElement('p')
    lead.textContent = words['way'] ?? ''
    way.append(lead)
    onWay(way, p, words, {
      arrived: () => lead.remove(),
      back: () => {
        lead.remove()
        shown.delete(p.id)
        void look().catch(() => undefined)
      },
    })
  }

  // One line for each that was not finished, and one for the tries of each thing that were not sent.
  const lines = (here: Taken[]): HTMLElement[] => {
    const cut = here.filter((t) => t.state === 'cut')
    const whole = new Map<string, Taken[]>()
    for (const t of here) if (t.state === 'whole') whole.set(t.of.of ?? '', [...(whole.get(t.of.of ?? '') ?? []), t])
    return [
      ...cut.map((t) => line(`${onDay(words, 'cut', t.begun)}${t.title ? ` (${t.title})` : ''}`, t, words['cut.what'])),
      ...[...whole.values()].map((all) => line(fill(words[all.length === 1 ? 'unsent.one' : 'unsent.more'], { n: all.length, title: all[0]?.title ?? '' }), all[0]!, words['unsent.what'])),
    ]
  }

  const line = (text: string, t: Taken, act: string | undefined): HTMLElement => {
    const row = document.createElement('li')
    const a = document.createElement('a')
    a.href = `/week/record?${new URLSearchParams({ child, ...(t.of.of ? { of: t.of.of } : {}) }).toString()}#h-tries`
    a.textContent = act ?? ''
    row.append(`${text} `, a)
    return row
  }

  news.onmessage = () => void look().catch(() => undefined)
  const seen = (): void => {
    if (!document.hidden) void look().catch(() => undefined)
  }
  document.addEventListener('visibilitychange', seen)
  void look().catch(() => undefined) // no vault in this browser: then there is nothing in it
  return () => {
    news.close()
    document.removeEventListener('visibilitychange', seen)
  }
}
