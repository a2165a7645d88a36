// _send.ts sends recordings of the vault, for as long as it takes. What is chosen to be sent lies in the
// outbox as a parcel without its file; the vault lets it go when the studio has it, and not before.
//
// A page sends with deliver, and shows how far it is. The service worker calls sendWaiting on a "sync"
// event with the tag syncTag: the browser asks again later where it throws.

import { alone, everything, forget as unpack, inTurn, keep, type Parcel } from '../arrive/_outbox'
import { type Arrived, Attempt, Refused, refusal, Sender, Stopped, type Watcher } from '../arrive/_sender'
import { file, forget, one, returned } from './_vault'

export const syncTag = 'antiphon-takes'

/** Pages and the worker tell each other here what became of a parcel. */
export const line = 'antiphon-parcels'

// News is what is said on the line: what arrived, or was not taken and why.
export interface News {
  id: string
  child: string
  arrived: boolean
  take: string // that it became; "" none
  why: string // it was not taken
}

// pack puts a recording of the vault into the outbox. From then on it is sent: a take here or behind the pages,
// an answer by the page of its lesson.
export async function pack(id: string, said: Record<string, string>, as: Pick<Parcel, 'from' | 'kind'> = { from: '/week/record', kind: 'take' }): Promise<Parcel> {
  const f = await file(id)
  const p: Parcel = { id, ...as, name: f.name, type: f.type, size: f.size, modified: f.lastModified, said, url: '', held: true, made: Date.now() }
  if (!(await keep(p))) throw new Error('the outbox did not keep it')
  await returned(id, '')
  return p
}

// parcels lists what of the recorder is on its way, for one child or for all.
export async function parcels(child = ''): Promise<Parcel[]> {
  return (await everything()).filter((p) => p.held && p.kind === 'take' && (!child || p.said.child === child))
}

// askForSync lets the browser send behind the pages when there is a network, where it can.
async function askForSync(): Promise<void> {
  if (!('serviceWorker' in navigator)) return
  const at = await navigator.serviceWorker.getRegistration('/week')
  const sync = (at as { sync?: { register(tag: string): Promise<void> } } | undefined)?.sync
  await sync?.register(syncTag).catch(() => undefined) // this page sends in any case
}

// Delivery is one parcel that this page sends, or sees sent.
export interface Delivery {
  done: Promise<Arrived | Refused | Stopped>
  stop(): void // the recording stays in the vault
  hurry(): void
}

// deliver sends one parcel until it is there, refused or stopped. Where another page or the worker has it in
// hand, it waits for what becomes of it, and goes on where that one ends.
export function deliver(p: Parcel, watcher: Watcher & { elsewhere(): void }): Delivery {
  let sender: Sender | undefined
  let stopped = false
  const act = async (): Promise<Arrived | Refused | Stopped> => {
    if (stopped) return new Stopped()
    const f = (await packed(p.id)) && (await file(p.id).catch(() => undefined))
    if (!f) {
      await unpack(p.id)
      return (await one(p.id)) ? new Stopped() : { take: '', before: false } // somebody else has sent it
    }
    void askForSync() // for when this page is closed too early
    sender = new Sender({ ...p, file: f }, watcher)
    try {
      const a = await sender.send()
      await over(p, a)
      return a
    } catch (e) {
      if (!(e instanceof Refused) && !(e instanceof Stopped)) throw e
      await over(p, e)
      return e
    }
  }
  const others = new BroadcastChannel(line)
  const done = new Promise<Arrived | Refused | Stopped>((resolve, reject) => {
    others.onmessage = (e: MessageEvent<News>) => {
      if (e.data.id !== p.id) return
      resolve(e.data.arrived ? { take: e.data.take, before: false } : e.data.why ? new Refused(e.data.why) : new Stopped())
    }
    const send = async (): Promise<void> => resolve(await act())
    alone(p.id, send)
      .then((mine) => {
        if (mine) return undefined
        watcher.elsewhere()
        return inTurn(p.id, send)
      })
      .catch(reject)
  }).finally(() => others.close())
  return {
    done,
    stop: () => {
      stopped = true
      void sender?.stop()
    },
    hurry: () => sender?.hurry(),
  }
}

async function packed(id: string): Promise<boolean> {
  return (await everything()).some((p) => p.id === id)
}

// over lets go of a parcel that nobody has to send any more, and tells the other pages.
async function over(p: Parcel, end: Arrived | Refused | Stopped): Promise<void> {
  if (!(end instanceof Error)) await forget(p.id)
  else await returned(p.id, end instanceof Refused ? end.message : '')
  await unpack(p.id)
  const to = new BroadcastChannel(line)
  to.postMessage({ id: p.id, child: p.said.child ?? '', arrived: !(end instanceof Error), take: end instanceof Error ? '' : end.take, why: end instanceof Refused ? end.message : '' } satisfies News)
  to.close()
}

// sendWaiting sends what waits, once each, where there is no page that does so. It throws where something
// could not be sent and a later try may mend it.
export async function sendWaiting(): Promise<void> {
  let failed: unknown
  for (const p of await parcels()) {
    const act = async (): Promise<void> => {
      if (!(await one(p.id))) return unpack(p.id)
      try {
        await over(p, await new Attempt({ ...p, file: await file(p.id) }, () => undefined).run())
      } catch (e) {
        const say = refusal(e)
        if (say) await over(p, new Refused(say))
        else failed = e
      }
    }
    if (!(await alone(p.id, act))) failed = new Error('an open page has it in hand')
  }
  if (failed) throw failed
}
