// _tries.ts lists what was recorded of one thing: each try can be heard, chosen, or thrown away.

import { file, forget, type Taken } from './_vault'
import { clock, fill, time, type Words } from './_words'

export class Tries {
  private shown: Taken[] = []
  private link = ''

  constructor(
    private readonly form: HTMLFormElement,
    private readonly list: HTMLElement,
    private readonly words: Words,
    private readonly changed: () => void,
  ) {}

  get all(): readonly Taken[] {
    return this.shown
  }

  // chosen is the try that would be sent.
  get chosen(): Taken | undefined {
    const id = new FormData(this.form).get('try')
    return this.shown.find((t) => t.id === id)
  }

  // show lists tries, the oldest first, with one of them chosen: the newest where nothing is said.
  show(tries: Taken[], choose = tries[0]?.id): void {
    this.hush()
    this.shown = [...tries].sort((a, b) => a.begun - b.begun)
    this.list.replaceChildren(...this.shown.map((t, i) => this.row(t, i + 1, t.id === choose)))
    this.form.hidden = this.shown.length === 0
  }

  private row(t: Taken, n: number, chosen: boolean): HTMLElement {
    const row = document.createElement('li')
    const label = document.createElement('label')
    const radio = document.createElement('input')
    radio.type = 'radio'
    radio.name = 'try'
    radio.value = t.id
    radio.checked = chosen
    const name = document.createElement('b')
    name.textContent = fill(this.words['try'], { n })
    const facts = document.createElement('span')
    facts.className = 'quiet'
    facts.textContent = fill(this.words['facts'], { length: clock(t.seconds), time: time(t.begun) })
    label.append(radio, ' ', name, ' ', facts)
    row.append(label)
    for (const text of [t.state === 'cut' ? this.words['cut.short'] : '', t.trouble && fill(this.words['refused'], { why: t.trouble })]) {
      if (!text) continue
      const p = document.createElement('p')
      p.className = 'small'
      p.textContent = text
      row.append(p)
    }
    const tools = document.createElement('p')
    tools.className = 'buttons'
    tools.append(
      this.button('listen', n, () => void this.listen(t, row).catch(() => this.forgotten(row))),
      this.button('away', n, () => this.ask(t, n, tools)),
    )
    row.append(tools)
    return row
  }

  private button(key: string, n: number, act: () => void): HTMLButtonElement {
    const b = document.createElement('button')
    b.type = 'button'
    b.className = key === 'listen' ? '' : 'text'
    b.textContent = this.words[key] ?? ''
    if (n) {
      const which = document.createElement('span')
      which.className = 'vh'
      which.textContent = `: ${fill(this.words['try'], { n })}`
      b.append(which)
    }
    b.addEventListener('click', act)
    return b
  }

  // ask is sure: what is thrown away is gone.
  private ask(t: Taken, n: number, tools: HTMLElement): void {
    const before = [...tools.childNodes]
    const sure = document.createElement('span')
    sure.textContent = this.words['away.sure'] ?? ''
    const yes = this.button('away.yes', 0, () => {
      forget(t.id).then(this.changed, () => undefined)
    })
    const no = this.button('away.no', 0, () => {
      tools.replaceChildren(...before)
      ;(before[1] as HTMLElement | undefined)?.focus()
    })
    yes.setAttribute('aria-label', `${this.words['away.yes']} (${fill(this.words['try'], { n })})`)
    tools.replaceChildren(sure, yes, no)
    no.focus()
  }

  private async listen(t: Taken, row: HTMLElement): Promise<void> {
    const f = await file(t.id)
    this.hush()
    const player = document.createElement(t.sort === 'sound' ? 'audio' : 'video')
    player.controls = true
    player.setAttribute('playsinline', '')
    this.link = URL.createObjectURL(f)
    player.src = this.link
    // A recorder writes no length into its file; a look at the end lets the browser find it.
    player.addEventListener(
      'loadedmetadata',
      () => {
        if (player.duration !== Infinity) return
        player.addEventListener('durationchange', () => (player.currentTime = 0), { once: true })
        player.currentTime = 1e9
      },
      { once: true },
    )
    row.append(player)
    player.focus()
    await player.play().catch(() => undefined)
  }

  private forgotten(row: HTMLElement): void {
    const p = document.createElement('p')
    p.textContent = this.words['lost'] ?? ''
    row.append(p)
  }

  hush(): void {
    for (const p of this.list.querySelectorAll<HTMLMediaElement>('audio,video')) {
      p.pause()
      p.remove()
    }
    if (this.link) URL.revokeObjectURL(this.link)
    this.link = ''
  }
}
