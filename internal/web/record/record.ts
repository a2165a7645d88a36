// record.ts: <div data-island="record" data-plan data-words>: the family's recorder. What is recorded is
// kept while it is made; nothing is sent without the tap.

import { say } from '../page/_say'
import type { Tune } from '../practice/_band'
import { lightOf, Meter } from './_checks'
import { count, Partner, type Placed } from './_partner'
import { pack, parcels } from './_send'
import { canRecord, type Ended, listen, Tape } from './_tape'
import { Tries } from './_tries'
import { makeRoom, note, type Sort, type Taken, takes } from './_vault'
import { onWay } from './_way'
import { clock, fill, onDay, type Words } from './_words'

interface Plan {
  child: string
  of: string
  title: string
  longestS: number
  beatBpm: number
  beats: number
  second?: { part: object; byParent: boolean; bpm: number; address: string; entryS: number }
}

const bytesAMinute: Record<Sort, number> = { sound: 1.1e6, hands: 13e6, film: 13e6 } // about, at the rates of the tape

export function mount(root: HTMLElement): () => void {
  const page = new Recorder(root)
  page.begin()
  return () => page.end()
}

class Recorder {
  private readonly plan: Plan
  private readonly words: Words
  private readonly tries: Tries
  private readonly form: HTMLFormElement
  private readonly undo: (() => void)[] = []
  private stream?: MediaStream
  private sort: Sort = 'sound'
  private ctx?: AudioContext
  private meter?: Meter
  private tape?: Tape
  private starting = false
  private partner?: Partner
  private wake?: WakeLockSentinel
  private looking = 0

  constructor(private readonly root: HTMLElement) {
    this.plan = JSON.parse(root.dataset.plan ?? '{}') as Plan
    this.words = JSON.parse(root.dataset.words ?? '{}') as Words
    this.form = this.at<HTMLFormElement>('[data-tries]')
    this.tries = new Tries(this.form, this.at('[data-list]'), this.words, () => void this.refresh())
  }

  private at<E extends HTMLElement>(selector: string): E {
    const e = this.root.querySelector<E>(selector)
    if (!e) throw new Error(`the recorder has no ${selector}`)
    return e
  }

  private on(at: EventTarget, what: string, act: (e: Event) => void): void {
    at.addEventListener(what, act)
    this.undo.push(() => at.removeEventListener(what, act))
  }

  begin(): void {
    const acts: Record<string, () => Promise<void> | void> = { open: () => this.open(), go: () => this.go(), stop: () => this.tape?.end('stopped'), close: () => this.close() }
    this.on(this.root, 'click', (e) => {
      const b = (e.target as Element).closest<HTMLElement>('[data-do]')
      const act = acts[b?.dataset.do ?? '']
      if (act) void Promise.resolve(act()).catch(() => this.trouble('broken'))
    })
    this.on(this.form, 'submit', (e) => {
      e.preventDefault()
      void this.send().catch(() => this.trouble('broken'))
    })
    this.on(this.root, 'change', (e) => {
      const field = e.target as HTMLInputElement
      if (field.name === 'hurt') this.at('[data-pain]').hidden = !field.checked
      if (field.name === 'sort') for (const e of this.root.querySelectorAll<HTMLElement>('[data-of]')) e.hidden = e.dataset.of !== field.value
      if (field.name === 'with') {
        this.at('[data-ears]').hidden = field.value !== 'ears'
        this.at('[data-count]').hidden = field.value !== '' || !(this.plan.beatBpm > 0) // beside a part it is counted in anyway
      }
    })
    // A phone that shows another page gives the microphone away: what there is stays.
    this.on(document, 'visibilitychange', () => {
      if (document.hidden) this.tape?.end('interrupted')
      else if (this.stream) void this.keepAwake()
    })
    this.on(window, 'pagehide', () => this.tape?.end('interrupted'))
    if (!canRecord()) {
      this.trouble('cannot')
      this.at('[data-before]').hidden = true
    }
    this.at('[data-count]').hidden = !(this.plan.beatBpm > 0)
    this.at('[data-with]').hidden = !this.plan.second?.address
    this.at('[data-together]').hidden = !this.plan.second?.byParent
    void this.refresh()
    void this.resume()
  }

  end(): void {
    this.close()
    for (const u of this.undo) u()
  }

  private trouble(key: string, blanks: Record<string, string | number> = {}): void {
    const p = this.at('[data-cannot]')
    p.textContent = fill(this.words[key], blanks)
    p.hidden = false
  }

  // open switches the microphone, and the camera, on.
  private async open(): Promise<void> {
    this.at('[data-cannot]').hidden = true
    this.sort = (this.root.querySelector<HTMLInputElement>('[name=sort]:checked')?.value ?? 'sound') as Sort
    try {
      this.stream = await listen(this.sort)
    } catch (e) {
      const name = e instanceof DOMException ? e.name : ''
      this.trouble(name === 'NotAllowedError' ? 'denied' : name === 'NotFoundError' ? 'none' : 'busy')
      return
    }
    this.ctx = new AudioContext({ latencyHint: 'interactive' })
    await this.ctx.resume()
    this.meter = new Meter(this.ctx, this.stream)
    const picture = this.sort !== 'sound'
    const video = this.at<HTMLVideoElement>('[data-video]')
    this.at('[data-stage]').hidden = this.at('[data-light]').hidden = !picture
    for (const g of this.root.querySelectorAll<HTMLElement>('[data-guide]')) g.toggleAttribute('hidden', this.sort !== 'hands')
    if (picture) {
      video.srcObject = this.stream
      await video.play().catch(() => undefined)
    }
    this.at('[data-before]').hidden = true
    this.at('[data-live]').hidden = false
    this.at('#h-live').focus()
    this.looking = window.setInterval(() => this.look(video, picture), 100)
    void this.keepAwake()
    const room = await makeRoom()
    const minutes = Math.floor(room.free / bytesAMinute[this.sort])
    if (minutes < 1) this.trouble('full')
    else if (minutes < this.plan.longestS / 60) this.trouble('little', { minutes })
  }

  private async keepAwake(): Promise<void> {
    if (!('wakeLock' in navigator) || document.hidden || (this.wake && !this.wake.released)) return
    this.wake = await navigator.wakeLock.request('screen').catch(() => undefined)
  }

  private look(video: HTMLVideoElement, picture: boolean): void {
    const now = performance.now()
    const heard = this.meter?.look(now)
    if (heard) {
      this.at('[data-level]').style.width = `${Math.round(100 * Math.max(0, 1 + heard.db / 60))}%`
      this.tell('[data-say-level]', this.words[`level.${heard.is}`])
    }
    if (picture) this.tell('[data-say-light]', this.words[`light.${lightOf(video) ?? 'good'}`])
    if (this.tape) this.tell('[data-clock]', clock(this.tape.seconds))
  }

  private tell(at: string, words = ''): void {
    const e = this.at(at)
    if (e.textContent !== words) e.textContent = words
  }

  // go begins a recording: counted in, or beside the tool's part, where that is chosen.
  private async go(): Promise<void> {
    if (!this.stream || !this.ctx || this.tape || this.starting) return
    this.starting = true
    this.tries.hush()
    this.at('[data-cannot]').hidden = true
    this.busy(true)
    try {
      const beside = this.root.querySelector<HTMLInputElement>('[name=with]:checked')?.value ?? ''
      this.tape = beside ? await this.together(beside) : await this.alone()
    } catch {
      this.busy(false)
      this.trouble('broken')
      return
    } finally {
      this.starting = false
    }
    this.tell('[data-state]', this.words['running'])
    this.at('[data-do=stop]').focus()
    const { id, seconds, why } = await this.tape.made
    this.tape = undefined
    await this.place(id)
    this.busy(false)
    await this.refresh(id)
    this.over(seconds, why)
  }

  private of(): Record<string, string> {
    const of: Record<string, string> = { child: this.plan.child, of: this.plan.of }
    const { second } = this.plan
    const together = this.root.querySelector<HTMLInputElement>('[name=together]:checked') !== null
    if (together && second) of.with = this.beside({ ...second.part, Speaker: true }) // a guitar is heard as a loudspeaker is
    else if (this.sort === 'hands') of.with = this.beside({})
    return of
  }

  // beside is what sounds with the child, as the studio reads it: see Partner there.
  private beside(p: object): string {
    return JSON.stringify({ ...p, HandsOnly: this.sort === 'hands' })
  }

  private start(stream: MediaStream): Promise<Tape> {
    return Tape.start(stream, { kind: 'take', of: this.of(), title: this.plan.title, sort: this.sort }, this.plan.longestS)
  }

  private async alone(): Promise<Tape> {
    const { ctx, plan } = this
    if (!ctx || !this.stream) throw new Error('nothing is open')
    if (this.root.querySelector<HTMLInputElement>('[name=count]:checked') && plan.beatBpm > 0) {
      const from = ctx.currentTime + 0.1
      const bar = count(ctx, plan.beats, plan.beatBpm, from, (n) => this.tell('[data-state]', String(n)))
      // The last click has sounded, the child has not begun: between the two the recorder starts.
      const last = bar - 60 / plan.beatBpm + 0.08
      await new Promise((done) => window.setTimeout(done, 1000 * Math.max(0, last - ctx.currentTime)))
    }
    return this.start(this.stream)
  }

  private async together(where: string): Promise<Tape> {
    const { ctx, plan } = this
    if (!ctx || !this.stream || !plan.second) throw new Error('nothing is open')
    let part: Tune
    try {
      part = await Partner.load(ctx, plan.second.address)
    } catch {
      this.trouble('with.away')
      return this.alone()
    }
    this.partner = new Partner(ctx, this.stream, part)
    const tape = await this.start(this.partner.stream())
    this.partner.begin(plan.beats, plan.beatBpm, (n) => this.tell('[data-state]', String(n)))
    this.speaker = where === 'speaker'
    return tape
  }

  private speaker = false

  // place writes down where in the recording the tool's part lies.
  private async place(id: string): Promise<void> {
    const { partner, plan } = this
    if (!partner || !plan.second) return
    partner.end()
    this.partner = undefined
    const p: Placed = await partner.place(id)
    const beside = this.beside({ ...plan.second.part, Bpm: plan.second.bpm, StartS: p.beatS + plan.second.entryS, Speaker: this.speaker })
    await note(id, { with: beside, latencyS: String(p.latencyS), exact: p.exact ? 'yes' : '' })
  }

  private busy(now: boolean): void {
    this.at('[data-do=go]').hidden = now
    this.at('[data-do=stop]').hidden = !now
    this.at('[data-do=close]').hidden = now
    this.root.classList.toggle('running', now)
    if (!now) this.tell('[data-state]', '')
    if (!now) this.tell('[data-clock]', clock(0))
  }

  private over(seconds: number, why: Ended): void {
    if (why === 'full') this.trouble('full')
    else if (why === 'interrupted') this.trouble('interrupted', { length: clock(seconds) })
    else say(fill(this.words[why === 'longest' ? 'over.longest' : 'over'], { length: clock(seconds) }))
    if (this.stream?.getAudioTracks().some((t) => t.readyState === 'ended')) this.close()
    this.form.querySelector<HTMLElement>('#h-tries')?.focus()
  }

  private close(): void {
    this.tape?.end('stopped')
    window.clearInterval(this.looking)
    this.meter?.end()
    this.meter = undefined
    this.stream?.getTracks().forEach((t) => t.stop())
    this.stream = undefined
    void this.ctx?.close().catch(() => undefined)
    this.ctx = undefined
    void this.wake?.release().catch(() => undefined)
    this.at('[data-live]').hidden = true
    this.at('[data-before]').hidden = false
  }

  // refresh shows what is in the vault: tries of this, and what was left of something else.
  private async refresh(choose?: string): Promise<void> {
    const sent = new Set((await parcels(this.plan.child)).map((p) => p.id))
    const all = (await takes({ kind: 'take', child: this.plan.child })).filter((t) => t.state !== 'making' && !sent.has(t.id))
    const mine = all.filter((t) => t.of.of === this.plan.of)
    this.tries.show(mine, choose ?? mine[0]?.id)
    const place = this.at('[data-unfinished]')
    place.replaceChildren(...all.filter((t) => t.state === 'cut').map((t) => this.unfinished(t)))
  }

  private unfinished(t: Taken): HTMLElement {
    const p = document.createElement('p')
    p.className = 'caution'
    p.textContent = `${onDay(this.words, 'cut', t.begun)} `
    const a = document.createElement('a')
    a.href = t.of.of === this.plan.of ? '#h-tries' : `/week/record?${new URLSearchParams({ child: t.of.child ?? '', of: t.of.of ?? '' }).toString()}#h-tries`
    a.textContent = this.words['cut.what'] ?? ''
    p.append(a)
    return p
  }

  // send packs the chosen try, and from then on it goes by itself.
  private async send(): Promise<void> {
    const t = this.tries.chosen
    if (!t) return this.trouble('choose')
    const { latencyS: _, exact: __, ...said }: Record<string, string> = t.of
    const form = new FormData(this.form)
    const words = String(form.get('note') ?? '').trim()
    if (words) said.note = words
    if (form.get('hurt')) said.hurt = 'yes'
    const p = await pack(t.id, said)
    this.form.reset()
    this.at('[data-pain]').hidden = true
    this.close()
    await this.refresh()
    const way = this.at('[data-way]')
    const lead = document.createElement('p')
    lead.className = 'done'
    lead.textContent = this.words['way'] ?? ''
    way.prepend(lead)
    onWay(way, p, this.words, {
      arrived: (take, before) => {
        if (!this.stream && take) location.assign(`/week/takes/${take}?sent${before ? '=before' : ''}`)
        else lead.remove()
      },
      back: () => {
        lead.remove()
        void this.refresh(p.id)
      },
    })
    way.tabIndex = -1
    way.focus()
  }

  // resume goes on with what an earlier page could not finish.
  private async resume(): Promise<void> {
    for (const p of await parcels(this.plan.child)) {
      onWay(this.at('[data-way]'), p, this.words, { arrived: () => undefined, back: () => void this.refresh(p.id) })
    }
  }
}
