// upload.ts: <form data-island="upload" data-kind="take" data-then="/week/takes/"> sends what is chosen in
// its file field, in pieces and for as long as it takes; without scripts the form is sent as it is.
// The words can be set by data-words, a JSON object with keys of words below; {name}, {sent}, {all} (MB)
// and {share} (percent) are filled in.

import { say } from '../page/_say'
import { alone, forget, keep, type Parcel, waiting } from './_outbox'
import { type Arrived, Refused, Sender } from './_sender'

const words = {
  sending: 'Sending {name}: {sent} of {all} MB.',
  waits: 'The network is away. It goes on by itself as soon as it is back; the recording is safe on this device.',
  full: 'The studio’s disk is full. The recording is safe on this device, and goes on by itself when there is room again.',
  here: '{name} has arrived.',
  before: '{name} was sent before; it is there once only.',
  refused: '{name} was not taken: {why}',
  again: '{name} is on its way and stopped. Choose the same recording once more, and it goes on where it stopped.',
  elsewhere: '{name} is being sent from another open page.',
  stop: 'Do not send',
  hurry: 'Try now',
  stopped: '{name} is not sent.',
}
type Words = typeof words

export function mount(root: HTMLElement): () => void {
  if (!(root instanceof HTMLFormElement)) return () => undefined
  const page = new Page(root)
  page.begin()
  return () => page.end()
}

class Page {
  private readonly field: HTMLInputElement | null
  private readonly list = document.createElement('ul')
  private readonly kind: string
  private readonly words: Words
  private readonly undo: (() => void)[] = []
  private onWay = 0
  private last?: Arrived

  constructor(private readonly form: HTMLFormElement) {
    this.field = form.querySelector<HTMLInputElement>('input[type=file]')
    this.kind = form.dataset.kind ?? 'take'
    this.words = { ...words, ...((JSON.parse(form.dataset.words ?? '{}') as Partial<Words>) ?? {}) }
    this.list.className = 'onway'
    let told = form.querySelector('[data-told]')
    if (!told) {
      told = document.createElement('div')
      form.append(told)
    }
    told.append(this.list)
  }

  begin(): void {
    this.on(this.form, 'submit', (e) => {
      const button = (e as SubmitEvent).submitter
      if (button?.hasAttribute('formaction')) return
      e.preventDefault()
      this.take([...(this.field?.files ?? [])])
      if (this.field) this.field.value = ''
    })
    this.on(this.form, 'dragover', (e) => {
      e.preventDefault()
      this.form.classList.add('over')
    })
    this.on(this.form, 'dragleave', () => this.form.classList.remove('over'))
    this.on(this.form, 'drop', (e) => {
      e.preventDefault()
      this.form.classList.remove('over')
      const files = [...((e as DragEvent).dataTransfer?.files ?? [])]
      this.take(this.field?.multiple ? files : files.slice(0, 1))
    })
    void this.resume()
  }

  end(): void {
    for (const u of this.undo) u()
  }

  private on(at: EventTarget, what: string, act: (e: Event) => void): void {
    at.addEventListener(what, act)
    this.undo.push(() => at.removeEventListener(what, act))
  }

  // resume goes on with what an earlier page could not finish.
  private async resume(): Promise<void> {
    for (const p of await waiting(location.pathname, this.kind)) {
      if (p.file) this.send(p)
      else new Line(this.list, p, this.words).tell('again')
    }
  }

  private take(files: File[]): void {
    const said: Record<string, string> = {}
    for (const [name, value] of new FormData(this.form)) if (typeof value === 'string') said[name] = value
    for (const f of files) void this.pack(f, said)
  }

  private async pack(f: File, said: Record<string, string>): Promise<void> {
    const known = (await waiting(location.pathname, this.kind)).find((p) => !p.file && p.name === f.name && p.size === f.size && p.modified === f.lastModified)
    const p: Parcel = known
      ? { ...known, file: f }
      : { id: crypto.randomUUID(), from: location.pathname, kind: this.kind, name: f.name, type: f.type, size: f.size, modified: f.lastModified, said, url: '', file: f, made: Date.now() }
    await keep(p)
    this.send(p)
  }

  private send(p: Parcel): void {
    const line = new Line(this.list, p, this.words)
    const sender = new Sender(p, { moved: (sent, all) => line.moved(sent, all), waits: (full) => line.tell(full ? 'full' : 'waits', { hurry: true }) })
    line.stop = () => void sender.stop()
    line.hurry = () => sender.hurry()
    this.onWay++
    const act = async (): Promise<void> => {
      try {
        this.last = await sender.send()
        line.tell(this.last.before ? 'before' : 'here', { over: true })
        await forget(p.id)
      } catch (e) {
        await forget(p.id)
        if (e instanceof Refused) line.tell('refused', { over: true, why: e.message })
        else line.tell('stopped', { over: true })
        this.last = undefined
      }
    }
    void alone(p.id, act).then((mine) => {
      if (!mine) line.tell('elsewhere', { over: true })
      if (--this.onWay === 0 && mine && this.last) this.done(this.last)
    })
  }

  // done leads on once everything has arrived.
  private done(last: Arrived): void {
    const then = this.form.dataset.then
    if (!then) {
      this.form.dispatchEvent(new CustomEvent('arrived', { bubbles: true, detail: last }))
      return
    }
    location.assign(last.take ? `${then}${last.take}?sent${last.before ? '=before' : ''}` : then)
  }
}

// Line is one recording on its way, as it is shown.
class Line {
  private readonly bar = document.createElement('progress')
  private readonly text = document.createElement('p')
  private readonly stopButton = button()
  private readonly hurryButton = button()
  private share = -1
  stop: () => void = () => undefined
  hurry: () => void = () => undefined

  constructor(
    list: HTMLElement,
    private readonly parcel: Parcel,
    private readonly words: Words,
  ) {
    const row = document.createElement('li')
    this.text.className = 'words'
    this.bar.max = Math.max(1, parcel.size)
    this.bar.value = 0
    this.bar.setAttribute('aria-label', parcel.name)
    this.stopButton.textContent = words.stop
    this.stopButton.onclick = () => this.stop()
    this.hurryButton.textContent = words.hurry
    this.hurryButton.onclick = () => this.hurry()
    this.hurryButton.hidden = true
    row.append(this.text, this.bar, this.stopButton, this.hurryButton)
    list.append(row)
    this.moved(0, parcel.size)
  }

  // moved shows how far it is. The words change with every twentieth, so that a screen reader is not talked over.
  moved(sent: number, all: number): void {
    this.bar.value = sent
    const share = Math.floor((20 * sent) / Math.max(1, all))
    if (share === this.share) return
    this.share = share
    this.hurryButton.hidden = true
    this.text.textContent = this.fill(this.words.sending, { sent: mb(sent), all: mb(all), share: String(5 * share) })
  }

  tell(what: keyof Words, more: { over?: boolean; hurry?: boolean; why?: string } = {}): void {
    const text = this.fill(this.words[what], { why: more.why ?? '' })
    this.text.textContent = text
    this.hurryButton.hidden = !more.hurry
    this.share = -1
    if (more.over) {
      this.bar.remove()
      this.stopButton.remove()
      this.hurryButton.remove()
      say(text)
    }
  }

  private fill(text: string, more: Record<string, string>): string {
    const all: Record<string, string> = { name: this.parcel.name, ...more }
    return text.replace(/\{(\w+)\}/g, (_, k: string) => all[k] ?? '')
  }
}

function button(): HTMLButtonElement {
  const b = document.createElement('button')
  b.type = 'button'
  b.className = 'text'
  return b
}

function mb(bytes: number): string {
  return (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)
}
