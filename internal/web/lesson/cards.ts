// cards.ts: <ol data-island="cards">. The tasks of a lesson open and fold by themselves (they are <details>); this
// fetches the music of a task when it is opened, gives each clip a small player, and remembers which task is open.
import { Clip } from './_clip'

const settle = 600 // ms after a bar was typed until its music is fetched

export function mount(root: HTMLElement): () => void {
  const form = root.closest('form')
  const open = form?.elements.namedItem('open') as HTMLInputElement | null
  const timers = new Map<Element, number>()

  async function music(task: HTMLElement): Promise<void> {
    const place = task.querySelector<HTMLElement>('[data-music]')
    if (!place) return
    if (!place.dataset.music) {
      delete place.dataset.shown
      place.replaceChildren()
      return
    }
    const n = task.querySelector<HTMLDetailsElement>('details[data-n]')?.dataset.n ?? ''
    const address = new URL(place.dataset.music ?? '', location.href)
    for (const end of ['from', 'to']) {
      const field = form?.elements.namedItem(`${end}.${n}`) as HTMLInputElement | null
      if (field) address.searchParams.set(end, field.value.trim())
    }
    address.searchParams.set('part', 'yes')
    if (place.dataset.shown === address.href) return
    place.dataset.shown = address.href
    const answer = await fetch(address, { headers: { Accept: 'text/html' }, redirect: 'error' })
    const html = await answer.text()
    if (place.dataset.shown !== address.href) return // other bars were typed meanwhile
    if (answer.ok) {
      place.innerHTML = html
      document.dispatchEvent(new Event('part'))
    }
  }
  const fetchMusic = (task: HTMLElement): void => {
    music(task).catch(() => {
      const place = task.querySelector<HTMLElement>('[data-music]')
      if (place) delete place.dataset.shown // the next opening asks again
    })
  }

  const woken = new WeakSet<Element>()
  const opened = (task: HTMLElement): void => {
    fetchMusic(task)
    for (const clip of task.querySelectorAll<HTMLFieldSetElement>('[data-clip]')) {
      if (woken.has(clip)) continue
      woken.add(clip)
      new Clip(clip, location.pathname)
    }
  }
  const toggled = (e: Event): void => {
    const d = e.target
    if (!(d instanceof HTMLDetailsElement) || !d.dataset.n) return
    const task = d.closest<HTMLElement>('.task')
    if (!task) return
    if (d.open) opened(task)
    if (open) open.value = root.querySelector<HTMLDetailsElement>('details[data-n][open]')?.dataset.n ?? ''
  }
  const typed = (e: Event): void => {
    const field = e.target as HTMLInputElement
    if (!/^(from|to)\.\d+$/.test(field.name ?? '')) return
    const task = field.closest<HTMLElement>('.task')
    if (!task) return
    window.clearTimeout(timers.get(task))
    timers.set(task, window.setTimeout(() => fetchMusic(task), settle))
  }
  const moved = (e: Event): void => {
    const task = (e.target as Element).closest<HTMLElement>('.task')
    if (task?.querySelector('details[data-n][open]')) fetchMusic(task)
  }
  root.addEventListener('music', moved)
  root.addEventListener('toggle', toggled, true) // it does not bubble
  root.addEventListener('input', typed)
  for (const d of root.querySelectorAll<HTMLDetailsElement>('details[data-n][open]')) {
    if (open) open.value = d.dataset.n ?? ''
    const task = d.closest<HTMLElement>('.task')
    if (task) opened(task)
  }
  return () => {
    root.removeEventListener('music', moved)
    root.removeEventListener('toggle', toggled, true)
    root.removeEventListener('input', typed)
    for (const t of timers.values()) window.clearTimeout(t)
  }
}
