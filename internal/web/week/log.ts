// log.ts: <ol data-island="log" data-student="…" data-words="{…}"> around cards [data-of=assignment]: taps of the week.
// Each is kept on the phone at once and shown at once, with a network or without.
//
// Without it the page still tells the teacher that it hurt, and answers a question, through forms.

import { channel, forget, kept, log, type Tap, voice } from './_log'
import { speak } from './_speak'

interface Words {
  hurt: string // what is told where nobody wrote more
  kept: string
  waits: string
  refused: string // with {why}
  close: string
}

export function mount(root: HTMLElement): () => void {
  const student = root.dataset.student ?? ''
  const words = JSON.parse(root.dataset.words ?? '{}') as Words
  const card = (of: string): HTMLElement | null => root.querySelector(`[data-of="${CSS.escape(of)}"]`)
  const rows = (of: string): HTMLElement[] => [...document.querySelectorAll<HTMLElement>(`[data-of="${CSS.escape(of)}"]`)]

  const flag = (of: string, name: 'done' | 'stopped', on: boolean): void => {
    for (const e of rows(of)) {
      if (on) e.dataset[name] = ''
      else delete e.dataset[name]
    }
  }

  const stop = (of: string): void => {
    flag(of, 'stopped', true)
    const place = card(of)?.querySelector('.stop')
    const caution = document.getElementById('pain') as HTMLTemplateElement | null
    if (place && caution && !place.childElementCount) place.append(caution.content.cloneNode(true))
  }

  const reply = (of: string, said: { right: boolean; say: string }): void => {
    const form = card(of)?.querySelector<HTMLElement>('[data-question]')
    if (!form || 'right' in form.dataset) return // the page itself says so, in its own language
    if (said.right) form.dataset.right = ''
    const place = form.querySelector('[data-reply]')
    if (place && place.textContent !== said.say) place.textContent = said.say
  }

  const sameDay = (at: string): boolean => new Date(at).toDateString() === new Date().toDateString()

  /** show brings the page to where the taps on this phone are: it may be older than they. */
  const show = async (): Promise<void> => {
    const all = (await kept()).filter((t) => t.student === student)
    const notes = new Map<string, Tap[]>()
    for (const t of all) {
      const of = t.assignment ?? ''
      if (t.kind === 'heard' || (t.kind === 'done' && sameDay(t.at))) flag(of, 'done', true)
      if (t.kind === 'undone') flag(of, 'done', false)
      if (t.kind === 'hurt' && sameDay(t.at)) stop(of)
      if (t.said) reply(of, t.said)
      if (!t.sent) notes.set(of, [...(notes.get(of) ?? []), t])
    }
    for (const place of root.querySelectorAll<HTMLElement>('[data-kept]')) {
      const of = place.closest<HTMLElement>('[data-of]')?.dataset.of ?? ''
      const waiting = notes.get(of) ?? []
      const refused = waiting.filter((t) => t.refused !== undefined)
      const lines: Node[] = refused.map((t) => line(words.refused.replace('{why}', t.refused ?? ''), t))
      if (waiting.length > refused.length && waiting.some((t) => t.refused === undefined && Date.now() - Date.parse(t.at) > 2000)) lines.push(line(words.waits))
      const waited = place.querySelector('[data-waits]') !== null
      if (lines.length || place.firstElementChild) place.replaceChildren(...lines)
      if (waited && !lines.length) place.textContent = words.kept
    }
  }

  /** line is a sentence, and for a tap that was not taken what it said, with a button that puts it away. */
  const line = (say: string, t?: Tap): HTMLElement => {
    const p = document.createElement('span')
    p.textContent = t?.text ? `${say} “${t.text}” ` : `${say} `
    if (!t) p.dataset.waits = ''
    else {
      const b = document.createElement('button')
      b.type = 'button'
      b.className = 'text'
      b.textContent = words.close
      b.addEventListener('click', () => void forget(t.id))
      p.append(b)
    }
    return p
  }

  const say = (of: string, what: string): void => {
    const place = card(of)?.querySelector('[data-kept]')
    if (place) place.textContent = what
  }

  const tap = async (e: Event): Promise<void> => {
    const button = (e.target as Element).closest<HTMLElement>('[data-tap]')
    const own = button?.closest<HTMLElement>('[data-of]')
    const assignment = own?.dataset.of
    if (!button || !own || !assignment) return
    const kind = button.dataset.tap ?? ''
    await log({ kind, student, assignment, ...(kind === 'hurt' ? { text: words.hurt } : {}) })
    if (kind === 'hurt') {
      stop(assignment)
      const tell = own.querySelector<HTMLDetailsElement>('.tell')
      if (tell) tell.open = true
      say(assignment, words.kept)
      own.querySelector<HTMLElement>('.stop')?.scrollIntoView({ block: 'nearest' })
      return
    }
    flag(assignment, 'done', kind !== 'undone')
    // The button that was pressed is gone: the one that undoes it has its place, and the focus.
    own.querySelector<HTMLElement>(kind === 'undone' ? '.do-done' : '[data-tap="undone"]')?.focus()
  }

  const submit = async (form: HTMLFormElement): Promise<void> => {
    const assignment = form.closest<HTMLElement>('[data-of]')?.dataset.of ?? ''
    const fields = new FormData(form)
    if (form.hasAttribute('data-ask')) {
      const text = String(fields.get('text') ?? '').trim()
      if (!text) return
      await log({ kind: 'question', student, assignment, text })
      form.reset()
      say(assignment, words.kept)
    } else {
      await log({ kind: 'answer', student, assignment, text: String(fields.get('answer') ?? '') })
      const place = form.querySelector('[data-reply]')
      if (place) place.textContent = navigator.onLine ? '' : words.waits
    }
  }

  const onSubmit = (e: SubmitEvent): void => {
    const form = e.target as HTMLFormElement
    if (!form.matches('[data-ask], [data-question]')) return
    e.preventDefault()
    submit(form).catch(() => form.submit())
  }
  const onClick = (e: Event): void => void tap(e)
  const onChange = (e: Event): void => {
    const way = e.target as HTMLInputElement
    if (!way.closest('[data-ways]')) return
    const assignment = way.closest<HTMLElement>('[data-of]')?.dataset.of ?? ''
    void log({ kind: 'chose', student, assignment, text: way.value }).then(() => say(assignment, words.kept))
  }
  root.addEventListener('click', onClick)
  root.addEventListener('submit', onSubmit)
  root.addEventListener('change', onChange)

  const mouths = [...root.querySelectorAll<HTMLElement>('[data-voice]')].map((place) => {
    const assignment = place.closest<HTMLElement>('[data-of]')?.dataset.of ?? ''
    return speak(place, async (sound, seconds) => {
      await voice({ student, assignment, seconds }, sound)
      say(assignment, words.kept)
    })
  })

  const news = new BroadcastChannel(channel)
  news.addEventListener('message', () => void show())
  void show()
  return () => {
    news.close()
    for (const end of mouths) end()
    root.removeEventListener('click', onClick)
    root.removeEventListener('submit', onSubmit)
    root.removeEventListener('change', onChange)
  }
}
