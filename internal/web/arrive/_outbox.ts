// _outbox.ts keeps what is on its way in the browser itself, so that a reload, a closed page or an empty
// battery loses nothing: the recording, what was written with it, and where its upload goes on.

import { listIn } from '../page/_list'

export interface Parcel {
  id: string
  from: string // path of the page that sends it
  kind: string
  name: string
  type: string
  size: number
  modified: number
  said: Record<string, string> // the form's fields
  url: string // of the upload, once it has begun
  file?: Blob // missing where the browser has no room for it, or where somebody else keeps it
  held?: boolean // the recorder's vault keeps the file under this id
  made: number
}

const base = 'antiphon-outbox'

// A phone may be without a network for the whole of a holiday. The server keeps half a recording for less;
// what comes later begins anew, and arrives all the same. What the vault holds waits for as long as it takes.
const keepFor = 60 * 24 * 3600 * 1000 // ms

const within = listIn(base, 'parcels')

// keep stores a parcel, and without its recording where there is no room for that. False: not even so.
export async function keep(p: Parcel): Promise<boolean> {
  const { file: _, ...light } = p
  try {
    await within('readwrite', (s) => s.put(p.held ? light : p))
    return true
  } catch {
    return within('readwrite', (s) => s.put(light)).then(
      () => true,
      () => false,
    )
  }
}

export function forget(id: string): Promise<void> {
  return within('readwrite', (s) => s.delete(id)).catch(() => undefined)
}

// waiting lists what a page has still to send, the oldest first.
export async function waiting(from: string, kind: string): Promise<Parcel[]> {
  return (await everything()).filter((p) => p.from === from && p.kind === kind)
}

// everything lists what all pages have still to send, the oldest first.
export async function everything(): Promise<Parcel[]> {
  const all = await within<Parcel[]>('readonly', (s) => s.getAll()).catch((): Parcel[] => [])
  const over = (p: Parcel): boolean => !p.held && Date.now() - p.made > keepFor
  for (const p of all) if (over(p)) void forget(p.id)
  return all.filter((p) => !over(p)).sort((a, b) => a.made - b.made)
}

// alone lets one page only send a parcel, however many are open. Without locks in the browser it trusts.
export async function alone(id: string, send: () => Promise<void>): Promise<boolean> {
  if (!('locks' in navigator)) {
    await send()
    return true
  }
  return navigator.locks.request(`${base}-${id}`, { ifAvailable: true }, async (lock) => {
    if (lock) await send()
    return lock !== null
  })
}

// inTurn sends a parcel when nobody else does any more.
export async function inTurn(id: string, send: () => Promise<void>): Promise<void> {
  if ('locks' in navigator) await navigator.locks.request(`${base}-${id}`, send)
  else await send()
}
