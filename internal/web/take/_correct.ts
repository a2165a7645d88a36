// _correct.ts: the teacher says where the ear was wrong. The forms work without it; it fills in the note or
// the moment that was chosen and keeps the page.
import { say, send } from '../page/_say'
import { renewParts } from './_live'
import type { Stage } from './take'

export function mountCorrections(stage: Stage): () => void {
  const { root } = stage
  const right = root.querySelector<HTMLButtonElement>('[data-was-right]')
  const silent = root.querySelector<HTMLButtonElement>('[data-was-silent]')

  const chosen = (): void => {
    const note = stage.place().note
    if (right) right.hidden = !note || note.v === 'right'
    if (silent) silent.hidden = !note || note.v === 'missed'
  }
  const fill = (form: HTMLFormElement): void => {
    const at = form.elements.namedItem('at')
    if (at instanceof HTMLInputElement && at.value === '') at.value = stage.place().s.toFixed(2)
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
    const el = e.target instanceof Element ? e.target.closest<HTMLElement>('[data-was-right],[data-was-silent]') : null
    const now = e.target instanceof Element ? e.target.closest<HTMLElement>('[data-now]')?.dataset.now : undefined
    const field = now ? document.getElementById(now) : null
    if (field instanceof HTMLInputElement) field.value = stage.place().s.toFixed(1)
    const note = stage.place().note
    const pass = stage.pass()
    if (!el || !note || !pass) return
    const body = new FormData()
    body.set('kind', el === silent ? 'note-missed' : note.v === 'missed' ? 'missed-was-played' : 'note-right')
    body.set('note', note.id)
    body.set('pass', String(pass.n))
    body.set('at', note.s.toFixed(3))
    body.set('hearing', stage.heard()?.hearing ?? '')
    keep(el.dataset.wasRight ?? el.dataset.wasSilent ?? '', body).catch(failed)
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
