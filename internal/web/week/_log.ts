// _log.ts keeps what is tapped at home, in the browser itself, and sends it when there is a network: in a kitchen
// without one nothing is lost, and the same tap sent twice is one tap, since its id is made here.

import { listIn } from '../page/_list'

/** What somebody taps; the kinds are the studio's: done, try, rung, hurt, question, heard, answer, chose, undone. */
export interface Tapped {
  kind: string
  student: string
  assignment?: string
  clean?: boolean
  bpm?: number
  seconds?: number
  text?: string
}

/** A tap as it is kept here. */
export interface Tap extends Tapped {
  id: string
  at: string // by this phone's clock, RFC 3339
  sound?: Blob // of a voice note, until it has arrived
  sent?: boolean
  said?: Reply // to an answer, once the studio has looked at it
  refused?: string // why the studio took it not, in its own words; it is not sent again
}

const base = 'antiphon-log'
const shownFor = 36 * 3600 * 1000 // ms; what was sent stays so long, for a page that is opened again without a network
const most = 200 // in one request; the studio takes 500
const patience = 20_000 // ms

const within = listIn(base, 'taps')

/** The name of the channel on which every page and the service worker say that the log has changed. */
export const channel = 'antiphon-log'

function changed(): void {
  const c = new BroadcastChannel(channel)
  c.postMessage('changed')
  c.close()
}

/** log keeps a tap, at once, and sends it when there is a network. It rejects only where the browser keeps nothing. */
export async function log(t: Tapped): Promise<void> {
  await keep(t)
  void flush()
}

/** voice keeps a spoken note until it is sent. */
export async function voice(t: Omit<Tapped, 'kind'>, sound: Blob): Promise<void> {
  await keep({ ...t, kind: 'voice' }, sound)
  void flush()
}

async function keep(t: Tapped, sound?: Blob): Promise<void> {
  const tap: Tap = { ...t, id: crypto.randomUUID(), at: new Date().toISOString() }
  if (sound) tap.sound = sound
  await within('readwrite', (s) => s.put(tap))
  changed()
}

/** kept gives the taps that are here, the oldest first: all that are not sent, and what was sent lately. */
export async function kept(): Promise<Tap[]> {
  const all = await within<Tap[]>('readonly', (s) => s.getAll()).catch(() => [])
  return all.sort((a, b) => a.at.localeCompare(b.at))
}

/** forget takes one out that will not be sent. */
export async function forget(id: string): Promise<void> {
  await within('readwrite', (s) => s.delete(id))
  changed()
}

/** What became of what waited: whether all of it is sent, and whether any of it was just now. */
export interface Flushed {
  all: boolean
  any: boolean
}

let flushing: Promise<Flushed> | undefined

/** flush sends what waits. */
export function flush(): Promise<Flushed> {
  flushing ??= send().finally(() => {
    flushing = undefined
  })
  return flushing
}

async function send(): Promise<Flushed> {
  const old = Date.now() - shownFor
  let any = false
  try {
    for (;;) {
      const all = await kept()
      for (const t of all) if (t.sent && Date.parse(t.at) < old) await within('readwrite', (s) => s.delete(t.id))
      const waiting = all.filter((t) => !t.sent && t.refused === undefined)
      if (!waiting.length) return { all: true, any }
      const spoken = waiting.find((t) => t.sound)
      const written = waiting.filter((t) => !t.sound).slice(0, most)
      if (written.length) await sendAll(written)
      else if (spoken) await sendVoice(spoken)
      any = true
    }
  } catch {
    await later()
    return { all: false, any }
  } finally {
    if (any) changed()
  }
}

/** later asks the browser to wake the service worker when the network is back, where it can. */
async function later(): Promise<void> {
  const here = globalThis as unknown as { registration?: ServiceWorkerRegistration; navigator: Navigator }
  const r = here.registration ?? (await here.navigator.serviceWorker?.getRegistration('/week'))
  const sync = (r as unknown as { sync?: { register(tag: string): Promise<void> } } | undefined)?.sync
  await sync?.register('log').catch(() => undefined)
}

/** What is said to an answer. */
export interface Reply {
  right: boolean
  say: string
}

async function sendAll(taps: Tap[]): Promise<void> {
  const body = JSON.stringify(taps.map(({ sent: _, said: __, refused: ___, sound: ____, ...t }) => t))
  const answer = await post('/week/log', body, 'application/json')
  if (answer.ok) {
    const { said } = (await answer.json()) as { said: Record<string, Reply> }
    for (const t of taps) await put({ ...t, sent: true, ...(said[t.id] && { said: said[t.id] }) })
    return
  }
  const why = await refusal(answer)
  // One that is refused does not hold up the others.
  if (taps.length > 1) for (const t of taps) await sendAll([t])
  else for (const t of taps) await put({ ...t, refused: why })
}

async function sendVoice(t: Tap): Promise<void> {
  const q = new URLSearchParams({ id: t.id, student: t.student, assignment: t.assignment ?? '', at: t.at, seconds: String(t.seconds ?? 0) })
  const answer = await post(`/week/voice?${q}`, t.sound ?? new Blob(), t.sound?.type || 'audio/webm')
  const { sound: _, ...light } = t
  if (answer.ok) await put({ ...light, sent: true })
  else await put({ ...t, refused: await refusal(answer) })
}

const put = (t: Tap): Promise<unknown> => within('readwrite', (s) => s.put(t))

function post(address: string, body: BodyInit, type: string): Promise<Response> {
  return fetch(address, { method: 'POST', body, headers: { Accept: 'application/json', 'Content-Type': type, 'Antiphon-Now': new Date().toISOString() }, signal: AbortSignal.timeout(patience) })
}

/** refusal is the studio's sentence where trying again is of no use; where it is, it throws. */
async function refusal(answer: Response): Promise<string> {
  if (![400, 404, 409, 410, 413, 415, 422].includes(answer.status)) throw new Error(String(answer.status))
  try {
    return ((await answer.json()) as { say?: string }).say ?? ''
  } catch {
    return ''
  }
}
