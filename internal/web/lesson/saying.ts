// saying.ts: <div data-island="saying" data-lesson data-item data-title>. The teacher records one item of an answer:
// looks, records, listens back, keeps it or takes it again. What is recorded stands in this browser, piece by piece,
// until the studio has it; a closed window or a dead network loses nothing, and it goes on where it broke off.
import { everything, type Parcel } from '../arrive/_outbox'
import { Refused } from '../arrive/_sender'
import { say } from '../page/_say'
import { deliver, pack } from '../record/_send'
import { canRecord, type Ended, Tape } from '../record/_tape'
import { file, forget, type Taken, takes } from '../record/_vault'
import { canShowScreen, choose, chosen, level, type Live, open, type Way, why } from './_stream'

const longestS = 15 * 60 // of one item: more is a film of its own. Our choice

const opening = 'opening' // the item that is no task; to the studio it has no name

// Who records stops who recorded before: there is one camera.
let busy: Saying | null = null

export function mount(root: HTMLElement): () => void {
  const tools = root.querySelector<HTMLElement>('[data-tools]')
  if (!tools) return () => undefined
  const one = new Saying(root, tools)
  return () => one.close()
}

class Saying {
  private live: Live | null = null
  private tape: Tape | null = null
  private timer = 0
  private hush: () => void = () => undefined
  private sending = false
  private readonly urls: string[] = []
  private readonly address: string
  private readonly of: Record<string, string>

  constructor(private readonly root: HTMLElement, private readonly tools: HTMLElement) {
    const { lesson = '', item = '' } = root.dataset
    this.of = { child: lesson, lesson, item } // the vault finds by "child": here that is the lesson
    this.address = `/lessons/${lesson}/answers/${item}`
    root.addEventListener('click', this.words)
    void this.look()
  }

  close(): void {
    this.release()
    this.root.removeEventListener('click', this.words)
    for (const u of this.urls) URL.revokeObjectURL(u)
  }

  /** look finds what is here of this item and has not arrived. */
  private async look(): Promise<void> {
    if (this.live || this.tape || this.sending) return
    const here = await this.waiting()
    if (!here) {
      this.idle()
      return
    }
    const going = (await everything()).find((p) => p.id === here.id)
    if (going) await this.send(going)
    else await this.made(here.id, here.state === 'cut' ? 'interrupted' : 'stopped', here.trouble)
  }

  private async waiting(): Promise<Taken | undefined> {
    if (!canRecord()) return undefined
    try {
      return (await takes({ kind: 'answer', child: this.of.lesson })).find((t) => t.of.item === this.of.item && t.state !== 'making')
    } catch {
      return undefined // no vault in this browser window
    }
  }

  private show(...parts: (Node | string)[]): void {
    this.tools.replaceChildren(...parts)
  }

  private idle(problem = ''): void {
    const row = buttons(
      ['Film yourself', () => void this.prepare('film')],
      ['Speak', () => void this.prepare('voice')],
      ...(canShowScreen() ? [['Show the screen and speak', () => void this.prepare('screen')] as [string, () => void]] : []),
    )
    if (!canRecord()) this.show(line('This browser cannot record. Send a file instead.'))
    else this.show(...(problem ? [alarm(problem)] : []), row)
  }

  private async prepare(way: Way): Promise<void> {
    if (busy && busy !== this) busy.leave()
    busy = this
    try {
      this.live = await open(way)
    } catch (e) {
      busy = null
      this.idle(why(e))
      return
    }
    this.ready(way, this.live)
  }

  private ready(way: Way, live: Live): void {
    const loud = document.createElement('progress')
    loud.max = 1
    loud.value = 0
    loud.setAttribute('aria-label', 'How loud it is')
    this.hush()
    this.hush = level(live.stream, (peak) => (loud.value = peak))
    const row = buttons(['Start', () => void this.record(way, live)], ['Not now', () => this.leave()])
    row.querySelector('button')?.classList.add('main')
    this.show(...this.picture(way, live), field('How loud it is', loud), row, this.devices(way))
    row.querySelector('button')?.focus()
  }

  private picture(way: Way, live: Live): Node[] {
    if (way === 'voice') return []
    const v = document.createElement('video')
    v.muted = true
    v.autoplay = true
    v.playsInline = true
    v.setAttribute('aria-label', 'What is being filmed')
    v.srcObject = live.stream
    return [v]
  }

  /** devices lets the teacher choose, where there is a choice. */
  private devices(way: Way): Node {
    const place = document.createElement('div')
    place.className = 'inline'
    void navigator.mediaDevices.enumerateDevices().then((all) => {
      for (const [kind, words, key] of [['audioinput', 'Microphone', 'microphone'], ['videoinput', 'Camera', 'camera']] as const) {
        const some = all.filter((d) => d.kind === kind && d.label)
        if (some.length < 2 || (kind === 'videoinput' && way !== 'film')) continue
        const s = document.createElement('select')
        for (const d of some) s.append(new Option(d.label, d.deviceId, false, d.deviceId === chosen()[key]))
        s.addEventListener('change', () => {
          choose({ [key]: s.value })
          this.release()
          void this.prepare(way)
        })
        place.append(field(words, s))
      }
    })
    return place
  }

  private async record(way: Way, live: Live): Promise<void> {
    try {
      this.tape = await Tape.start(live.stream, { kind: 'answer', of: this.of, title: this.root.dataset.title ?? '', sort: way === 'voice' ? 'sound' : 'film' }, longestS)
    } catch (e) {
      this.release()
      this.idle(why(e))
      return
    }
    const tape = this.tape
    const clock = line('0:00')
    clock.className = 'figures'
    this.timer = window.setInterval(() => (clock.textContent = `Recording, ${minutes(tape.seconds)}`), 250)
    const row = buttons(['Stop', () => tape.end('stopped')])
    row.querySelector('button')?.classList.add('main')
    this.show(...this.picture(way, live), clock, row)
    row.querySelector('button')?.focus()
    say('Recording')
    const end = await tape.made.catch(() => ({ id: tape.id, why: 'interrupted' as Ended }))
    this.release()
    await this.made(end.id, end.why)
  }

  /** made shows what was recorded, to be heard before it is kept. */
  private async made(id: string, why: Ended, problem = ''): Promise<void> {
    let what: File
    try {
      what = await file(id)
    } catch {
      await forget(id).catch(() => undefined)
      this.idle('Nothing was recorded. Press again.')
      return
    }
    const said: Record<Ended, string> = {
      stopped: 'Recorded, and kept in this browser. Listen, then decide.',
      longest: 'That is as long as one item may be. It is kept in this browser.',
      interrupted: 'The recording was interrupted. What there is of it is kept in this browser.',
      full: 'There is no room for more on this device. What there is of it is kept in this browser.',
    }
    const row = buttons(['Keep it', () => void this.keep(id)], ['Record it again', () => void this.drop(id)])
    row.querySelector('button')?.classList.add('main')
    this.show(...(problem ? [alarm(problem)] : []), this.player(what), line(said[why]), row)
  }

  private player(what: File): HTMLMediaElement {
    const p = document.createElement(what.type.startsWith('video/') ? 'video' : 'audio')
    p.controls = true
    p.src = URL.createObjectURL(what)
    p.setAttribute('aria-label', 'What was just recorded')
    this.urls.push(p.src)
    return p
  }

  private async drop(id: string): Promise<void> {
    await forget(id)
    this.idle()
    this.tools.querySelector('button')?.focus()
  }

  private async keep(id: string): Promise<void> {
    const { lesson = '', item = '' } = this.of
    const said = { lesson, item: item === opening ? '' : item }
    const p = await pack(id, said, { from: location.pathname, kind: 'answer' }).catch(() => undefined)
    if (p) await this.send(p)
    else await this.made(id, 'full') // not even a line fits beside it
  }

  private async send(p: Parcel): Promise<void> {
    if (this.sending) return
    this.sending = true
    const what = await file(p.id)
    const bar = document.createElement('progress')
    bar.max = 1
    bar.value = 0
    bar.setAttribute('aria-label', 'How much of it has arrived')
    const words = line('Going to the studio …')
    const row = buttons(['Try now', () => d.hurry()], ['Stop sending', () => d.stop()])
    const hurry = row.querySelector('button')!
    hurry.hidden = true
    const tell = (said: string, waits = false): void => {
      words.textContent = said
      hurry.hidden = !waits
    }
    const d = deliver(p, {
      moved: (sent, all) => {
        bar.value = sent / Math.max(1, all)
        tell(sent < all ? `Going to the studio: ${Math.floor((100 * sent) / all)} of 100` : 'Being put away …')
      },
      waits: (full) =>
        full
          ? tell('The studio’s disk is full. The recording is safe in this browser and goes on by itself when there is room.', true)
          : tell('It has not arrived yet: no network, or the studio does not answer. It is safe in this browser and goes on where it broke off as soon as it can.', true),
      elsewhere: () => tell('Another open window is sending it.'),
    })
    this.show(words, bar, row)
    const end = await d.done.catch((e: unknown) => e as Error)
    this.sending = false
    if (end instanceof Refused) await this.made(p.id, 'stopped', end.message)
    else if (end instanceof Error) await this.made(p.id, 'stopped')
    else await this.arrived(what)
  }

  /** arrived shows what the studio has now; until it is made ready there, it is heard from here. */
  private async arrived(what: File): Promise<void> {
    const address = `${this.address}?${new URLSearchParams({ title: this.root.dataset.title ?? '' })}`
    const answer = await fetch(address, { headers: { Accept: 'text/html' }, redirect: 'error' }).catch(() => null)
    const kept = this.root.querySelector<HTMLElement>('[data-kept]')
    if (answer?.ok && kept) {
      kept.innerHTML = await answer.text()
      const own = kept.querySelector<HTMLMediaElement>('video, audio')
      if (own) {
        own.src = URL.createObjectURL(what)
        this.urls.push(own.src)
      }
    }
    this.idle()
    say('Kept. It goes out with the lesson.')
  }

  // words of a recording are kept without leaving the page.
  private readonly words = (e: Event): void => {
    const b = (e.target as Element).closest('button[data-words]')
    const text = this.root.querySelector<HTMLTextAreaElement>('textarea[name="text"]')
    if (!b || !text) return
    e.preventDefault()
    fetch(`${this.address}/captions`, { method: 'POST', headers: { Accept: 'application/json' }, body: new URLSearchParams({ text: text.value }) })
      .then(async (answer) => {
        const said = (await answer.json()) as { say?: string }
        say(answer.ok ? 'The words are kept.' : (said.say ?? 'The words were not kept. Try again.'))
      })
      .catch(() => say('No network: the words are not kept yet. Try again.'))
  }

  /** leave stops looking; what is being recorded is kept. */
  private leave(): void {
    if (this.tape) {
      this.tape.end('stopped')
      return
    }
    this.release()
    this.idle()
  }

  private release(): void {
    window.clearInterval(this.timer)
    this.hush()
    this.hush = () => undefined
    this.live?.stop()
    this.live = null
    this.tape = null
    if (busy === this) busy = null
  }
}

function line(words: string): HTMLParagraphElement {
  const p = document.createElement('p')
  p.textContent = words
  return p
}

function alarm(words: string): HTMLElement {
  const p = line(words)
  p.className = 'caution'
  p.setAttribute('role', 'alert')
  return p
}

function field(words: string, what: HTMLElement): HTMLElement {
  const l = document.createElement('label')
  l.append(words, ' ', what)
  return l
}

function buttons(...all: [string, () => void][]): HTMLElement {
  const row = document.createElement('p')
  row.className = 'buttons'
  for (const [words, press] of all) {
    const b = document.createElement('button')
    b.type = 'button'
    b.textContent = words
    b.addEventListener('click', press)
    row.append(b)
  }
  return row
}

function minutes(s: number): string {
  return `${Math.floor(s / 60)}:${String(Math.floor(s) % 60).padStart(2, '0')}`
}
