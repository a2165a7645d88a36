// _remarks.ts: the teacher writes, says, films or draws a remark where the recording stands. The form works
// without it; it fills in the place, keeps the page, and takes a remedy over in the teacher's own words.
import { say, send } from '../page/_say'
import { Drawing, type ShapeKind } from './_drawing'
import { clock } from './_heard'
import { renewParts } from './_live'
import { Recorder, type Sort } from './_record'
import type { Stage } from './take'

export function mountRemarks(stage: Stage): () => void {
  const { root, deck } = stage
  const form = root.querySelector<HTMLFormElement>('form[data-compose]')
  if (!form) return () => undefined
  const field = (name: string): HTMLInputElement => form.elements.namedItem(name) as HTMLInputElement
  const text = form.querySelector('textarea')!
  const placeText = form.querySelector<HTMLElement>('[data-place]')
  const aloud = form.querySelector<HTMLElement>('[data-aloud]')
  const board = form.querySelector<HTMLElement>('[data-board]')
  const recorder = new Recorder()
  const video = deck.media instanceof HTMLVideoElement ? deck.media : null
  let drawing: Drawing | null = null
  let spoken: Blob | null = null
  let starting = false
  let link = ''

  function at(s: number, bar: string, note: string): void {
    field('at').value = s.toFixed(2)
    field('bar').value = bar
    field('note').value = note
    const of = note && stage.heard()?.names[note]
    if (placeText) placeText.textContent = `At ${clock(s)}${bar ? `, bar ${bar}` : ''}${of ? `, the note ${of}` : ''}.`
  }

  function here(withNote: boolean): void {
    const p = stage.place()
    at(p.s, p.bar?.bar ?? '', withNote ? (p.note?.id ?? '') : '')
  }

  function open(): void {
    text.focus()
    form!.scrollIntoView({ block: 'nearest', behavior: matchMedia('(prefers-reduced-motion: reduce)').matches ? 'instant' : 'smooth' })
  }

  /** A remedy's words, to be changed before they are kept. */
  function takeOver(offer: HTMLElement): void {
    const f = offer.closest<HTMLElement>('[data-finding]')
    const from = Number(f?.dataset.from ?? '0')
    at(from, f?.dataset.bar ?? '', (f?.dataset.ids ?? '').split(' ')[0] ?? '')
    field('remedy').value = offer.dataset.takeover ?? ''
    text.value = offer.dataset.words ?? ''
    open()
    text.setSelectionRange(text.value.length, text.value.length)
    say('Taken over. Change the words as you like, then keep them.')
  }

  function takeOverHere(): void {
    const f = root.querySelector<HTMLElement>('[data-finding].at') ?? root.querySelector<HTMLElement>('[data-finding]')
    const offer = f?.querySelector<HTMLElement>('[data-takeover]')
    if (offer) takeOver(offer)
    else say('The book of remedies has nothing for this.')
  }

  // ---- drawing on a frozen picture

  function freeze(): void {
    if (!video || !board || video.videoWidth === 0) {
      say('There is no picture to draw on.')
      return
    }
    video.pause()
    if (video.readyState < HTMLMediaElement.HAVE_CURRENT_DATA || video.currentTime === 0) {
      // Not moved yet: the poster stands there, and a canvas would get nothing. A step brings the first picture.
      video.addEventListener('seeked', freeze, { once: true })
      video.preload = 'auto'
      video.currentTime = Math.max(video.currentTime, 0.01)
      return
    }
    const canvas = document.createElement('canvas')
    canvas.width = video.videoWidth
    canvas.height = video.videoHeight
    canvas.getContext('2d')?.drawImage(video, 0, 0)
    drawing = new Drawing({ w: canvas.width, h: canvas.height, shapes: [] }, true)
    const box = document.createElement('div')
    box.className = 'frozen'
    box.append(canvas, drawing.svg)
    board.querySelector('.frozen')?.remove()
    board.prepend(box)
    board.hidden = false
    here(false)
    board.querySelector<HTMLElement>('[data-shape]')?.focus()
  }

  function thaw(): void {
    drawing = null
    board?.querySelector('.frozen')?.remove()
    if (board) board.hidden = true
  }

  // ---- saying and filming

  async function record(sort: Sort, button: HTMLElement): Promise<void> {
    if (recorder.running) {
      recorder.stop()
      return
    }
    if (starting) return // the browser is still asking for the microphone
    if (!Recorder.can()) {
      say('This browser cannot record here. It needs a secure address (https) and a microphone.')
      return
    }
    deck.pause()
    here(true)
    const before = button.textContent
    button.textContent = 'Stop'
    button.setAttribute('aria-pressed', 'true')
    starting = true
    try {
      const live = document.createElement('video')
      const blob = await recorder.run(sort, (stream) => {
        starting = false
        if (sort !== 'video' || !aloud) return
        live.muted = true
        live.playsInline = true
        live.srcObject = stream
        aloud.replaceChildren(live)
        live.play().catch(() => undefined)
      })
      keepBlob(blob, sort)
    } catch {
      say('The microphone or camera could not be used. Allow it for this page in the browser, and try again.')
    } finally {
      starting = false
      button.textContent = before
      button.setAttribute('aria-pressed', 'false')
    }
  }

  function keepBlob(blob: Blob, sort: Sort): void {
    spoken = blob.size > 0 ? blob : null
    if (link) URL.revokeObjectURL(link)
    if (!aloud || !spoken) return
    link = URL.createObjectURL(spoken)
    const player = document.createElement(sort === 'video' ? 'video' : 'audio')
    player.controls = true
    player.src = link
    player.setAttribute('aria-label', 'What you recorded')
    const away = document.createElement('button')
    away.type = 'button'
    away.className = 'text'
    away.textContent = 'Throw the recording away'
    away.addEventListener('click', dropBlob)
    aloud.replaceChildren(player, away)
    say('Recorded. Listen to it, then keep the remark.')
  }

  function dropBlob(): void {
    spoken = null
    aloud?.replaceChildren()
  }

  // ---- keeping

  async function keep(): Promise<void> {
    if (field('at').value === '' || field('at').value === '0') here(true)
    const body = new FormData(form!)
    if (drawing && drawing.drawn.shapes.length) body.set('frame', JSON.stringify(drawing.drawn))
    if (spoken) body.set('aloud', spoken, 'remark')
    await send<unknown>(form!.action, body)
    form!.reset()
    field('remedy').value = ''
    at(0, '', '')
    if (placeText) placeText.textContent = ''
    thaw()
    dropBlob()
    await renewParts(root, ['remarks'])
    say('The remark is kept.')
  }

  const submit = (e: SubmitEvent): void => {
    const of = e.target as HTMLFormElement
    if (of === form) {
      e.preventDefault()
      keep().catch((x: unknown) => say(x instanceof Error ? x.message : 'The remark was not kept. Try again.'))
    } else if (of.matches('[data-remark-form]')) {
      e.preventDefault()
      send<unknown>(of.action, new FormData(of))
        .then(() => renewParts(root, ['remarks']))
        .then(() => say(of.dataset.done ?? 'Done.'))
        .catch((x: unknown) => say(x instanceof Error ? x.message : 'That was not kept. Try again.'))
    }
  }
  const click = (e: MouseEvent): void => {
    if (!(e.target instanceof Element)) return
    const el = e.target.closest<HTMLElement>('[data-takeover],[data-do]')
    if (!el) return
    if (el.dataset.takeover !== undefined) {
      e.preventDefault()
      takeOver(el)
      return
    }
    switch (el.dataset.do) {
      case 'remark-here':
        here(true)
        field('remedy').value = ''
        open()
        break
      case 'take-over':
        takeOverHere()
        break
      case 'voice':
      case 'video':
        record(el.dataset.do as Sort, el).catch(() => undefined)
        break
      case 'freeze':
        freeze()
        break
      case 'thaw':
        thaw()
        break
      case 'shape':
        drawing?.add(el.dataset.shape as ShapeKind)
        break
    }
  }
  root.addEventListener('submit', submit)
  root.addEventListener('click', click)
  // A draft of the form that the server filled in, as after a link without a script.
  if (field('at').value) at(Number(field('at').value), field('bar').value, field('note').value)
  return () => {
    root.removeEventListener('submit', submit)
    root.removeEventListener('click', click)
    recorder.stop()
    if (link) URL.revokeObjectURL(link)
  }
}

