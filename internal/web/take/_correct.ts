// _correct.ts: the teacher says where the ear was wrong. The forms work without it; it fills in the note or
// the moment that was chosen and keeps the page.
import { say, send } from '../page/_say'
import { renewParts } from './_live'
import type { Stage } from './take'

export function mountCorrections(stage: Stage): () => void {
  const { root } = stage
  const right = root.querySelector<HTMLButtonElement>('[data-was-right]')

  const chosen = (): void => {
    const note = stage.place().note
    if (right) right.hidden = !note || note.v === 'right'
  }
  const fill = (form: HTMLFormElement): void => {
    const p = stage.place()
    const set = (name: string, v: string): void => {
      const f = form.elements.namedItem(name)
      if (f instanceof HTMLInputElement && f.value === '') f.value = v
    }
    set('at', p.s.toFixed(2))
    set('from', p.s.toFixed(1))
    set('to', (p.bar?.to_s ?? p.s + 2).toFixed(1))
  }
  const keep = async (address: string, body: FormData): Promise<void> => {
    const said = await send<{ say: string }>(address, body)
    await renewParts(root)
    root.dispatchEvent(new Event('renew'))
    say(said.say)
  }
  const failed = (x: unknown): void => say(x instanceof Error ? x.message : 'That was not kept. Try again.')
  const submit = (e: SubmitEvent): void => {
    const form = e.target as HTMLFormElement
    if (!form.matches('[data-correct]')) return
    e.preventDefault()
    fill(form)
    keep(form.action, new FormData(form)).catch(failed)
  }
  const click = (e: MouseEvent): void => {
    if (!right || !(e.target instanceof Element) || e.target.closest('[data-was-right]') !== right) return
    const note = stage.place().note
    const pass = stage.pass()
    if (!note || !pass) return
    const body = new FormData()
    body.set('kind', note.v === 'missed' ? 'missed-was-played' : 'note-right')
    body.set('note', note.id)
    body.set('pass', String(pass.n))
    body.set('at', note.s.toFixed(3))
    body.set('hearing', stage.heard()?.hearing ?? '')
    keep(right.dataset.wasRight ?? '', body).catch(failed)
  }
  root.addEventListener('chosen', chosen)
  root.addEventListener('submit', submit)
  root.addEventListener('click', click)
  chosen()
  return () => {
    root.removeEventListener('chosen', chosen)
    root.removeEventListener('submit', submit)
    root.removeEventListener('click', click)
  }
}
