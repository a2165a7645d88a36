// _vault.ts keeps a recording safe in the browser while it is made. Every piece that the recorder gives is
// written to IndexedDB as it comes, flushed to the disk, with what the recording is of written before the
// first; so a dead battery or a killed browser loses what was not yet a piece, and nothing else.
//
// A recording is begun, given its pieces, and finished. One that was begun and is neither finished nor still
// being made anywhere is "cut": what there is of it can be listened to, sent or thrown away.
//
//   const id = await begin({ kind: 'take', of: { child, of }, title, type: 'audio/webm', sort: 'sound' })
//   const done = holds(id)              // while this page makes it, no other page takes it for a cut one
//   await keepChunk(id, blob, seconds)  // in the order of the calls; throws NoRoom where the disk is full
//   await finish(id, seconds); await done()
//   for (const t of await takes({ kind: 'take' })) play(await file(t.id))
//   await forget(id)
//
// Tape in _tape.ts does all this with a microphone. The vault sends nothing and deletes nothing by itself; a page lists
// only what belongs to its own children.

export type Sort = 'film' | 'hands' | 'sound'
export type State = 'making' | 'whole' | 'cut'

// Plan is what is known of a recording before its first piece.
export interface Plan {
  kind: string // whose it is to show: 'take' of a family, 'answer' of a teacher
  of: Record<string, string> // what it is of, in the words of whoever sends it
  title: string // for a person: the piece, or the item of a lesson
  type: string // media type as the recorder says it
  sort: Sort
}

// Taken is a recording in the vault, without its bytes.
export interface Taken extends Plan {
  id: string
  begun: number // ms since 1970
  state: State
  pieces: number
  bytes: number
  seconds: number // as far as pieces are kept
  trouble: string // why it was not taken when it was sent; '' nothing
}

type Row = Omit<Taken, 'state'> & { finished: boolean }

interface Piece {
  take: string
  n: number // from 0
  bytes: ArrayBuffer
}

// NoRoom says that the browser could not keep a piece; those before it are safe.
export class NoRoom extends Error {
  constructor() {
    super('there is no room on this device')
  }
}

const base = 'antiphon-vault'
const rows = 'takes'
const heap = 'pieces'

function open(): Promise<IDBDatabase> {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(base, 1)
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore(rows, { keyPath: 'id' })
      asked.result.createObjectStore(heap, { keyPath: ['take', 'n'] })
    }
    asked.onsuccess = () => {
      asked.result.onversionchange = () => asked.result.close()
      resolve(asked.result)
    }
    asked.onerror = () => reject(asked.error ?? new Error('no vault'))
  })
}

async function within<T>(mode: IDBTransactionMode, act: (t: IDBTransaction) => IDBRequest<T>): Promise<T> {
  const db = await open()
  try {
    return await new Promise<T>((resolve, reject) => {
      // Strict: done means written to the disk, not handed to the system.
      const t = db.transaction([rows, heap], mode, { durability: 'strict' })
      const r = act(t)
      t.oncomplete = () => resolve(r.result)
      t.onabort = () => reject(full(t.error ?? r.error))
    })
  } finally {
    db.close()
  }
}

function full(e: DOMException | null): Error {
  return e?.name === 'QuotaExceededError' ? new NoRoom() : (e ?? new Error('the vault did not keep it'))
}

const every = (take: string): IDBKeyRange => IDBKeyRange.bound([take, 0], [take, Infinity])
const lock = (id: string): string => `${base}-${id}`

// begin writes down what will be recorded, and gives its id.
export async function begin(p: Plan): Promise<string> {
  const row: Row = { ...p, id: crypto.randomUUID(), begun: Date.now(), finished: false, pieces: 0, bytes: 0, seconds: 0, trouble: '' }
  await within('readwrite', (t) => t.objectStore(rows).add(row))
  return row.id
}

// holds says that this page is making a recording, until the function that it gives is called or the page
// ends in whatever way. Without locks in the browser nobody can tell, and a recording counts as being made
// for ten seconds after its last piece.
export function holds(id: string): () => Promise<void> {
  let over = (): void => undefined
  const until = new Promise<void>((resolve) => (over = resolve))
  const asked: Promise<unknown> = 'locks' in navigator ? navigator.locks.request(lock(id), () => until) : until
  return async () => {
    over()
    await asked
  }
}

// What waits to be written of one recording, and the last write that was asked for. A disk may need longer for
// a write than the recorder for a piece; what came meanwhile is written as one, so that nothing queues up.
interface Queue {
  waiting: { piece: Blob; seconds: number }[]
  last: Promise<void>
}
const queues = new Map<string, Queue>()

// keepChunk keeps the next piece; seconds is how long the recording is with it. It resolves when the piece
// is on the disk. After a NoRoom the recording stays as it was before the piece, and takes no later one:
// behind a hole it would be noise.
export function keepChunk(id: string, piece: Blob, seconds: number): Promise<void> {
  const q = queues.get(id) ?? { waiting: [], last: Promise.resolve() }
  queues.set(id, q)
  q.waiting.push({ piece, seconds })
  q.last = q.last.then(() => write(id, q.waiting.splice(0)))
  return q.last
}

async function write(id: string, all: Queue['waiting']): Promise<void> {
  const bytes = await new Blob(all.map((p) => p.piece)).arrayBuffer()
  if (bytes.byteLength === 0) return // it went with an earlier one
  const { seconds } = all.at(-1)!
  await change(id, (r, t) => {
    t.objectStore(heap).add({ take: id, n: r.pieces, bytes } satisfies Piece)
    return { ...r, pieces: r.pieces + 1, bytes: r.bytes + bytes.byteLength, seconds }
  })
}

// finish marks a recording whole, once its last piece is kept.
export async function finish(id: string, seconds: number): Promise<void> {
  await queues.get(id)?.last.catch(() => undefined)
  queues.delete(id)
  await change(id, (r) => ({ ...r, finished: true, seconds }))
}

// note adds to what a recording is of.
export function note(id: string, of: Record<string, string>): Promise<void> {
  return change(id, (r) => ({ ...r, of: { ...r.of, ...of } }))
}

// returned says why the studio did not take it: it is here as before.
export function returned(id: string, trouble: string): Promise<void> {
  return change(id, (r) => ({ ...r, trouble }))
}

async function change(id: string, to: (r: Row, t: IDBTransaction) => Row): Promise<void> {
  await within('readwrite', (t) => {
    const shelf = t.objectStore(rows)
    const asked: IDBRequest<Row | undefined> = shelf.get(id)
    asked.onsuccess = () => {
      if (asked.result) shelf.put(to(asked.result, t))
    }
    return asked
  })
}

// takes lists the recordings of a kind that are here, the newest first; with child, those of one child.
// One without a single piece is not listed.
export async function takes(which: { kind: string; child?: string }): Promise<Taken[]> {
  const all: Row[] = await within('readonly', (t) => t.objectStore(rows).getAll())
  const making = await held()
  return all
    .filter((r) => r.kind === which.kind && (!which.child || r.of.child === which.child) && r.pieces > 0)
    .map((r) => taken(r, making))
    .sort((a, b) => b.begun - a.begun)
}

// one gives a recording, undefined where it is not here.
export async function one(id: string): Promise<Taken | undefined> {
  const r: Row | undefined = await within('readonly', (t) => t.objectStore(rows).get(id))
  return r && taken(r, await held())
}

function taken(r: Row, making: Set<string> | null): Taken {
  const { finished, ...rest } = r
  const busy = making ? making.has(lock(r.id)) : Date.now() - r.begun < 1000 * (r.seconds + 10)
  return { ...rest, state: finished ? 'whole' : busy ? 'making' : 'cut' }
}

// held names what open pages are making; null where the browser cannot tell.
async function held(): Promise<Set<string> | null> {
  if (!('locks' in navigator)) return null
  const { held: all } = await navigator.locks.query()
  return new Set((all ?? []).map((l) => l.name ?? ''))
}

// file puts a recording together, to be played or sent; its first pieces only where that is asked. Its name
// says what it is of and when it was made.
export async function file(id: string, pieces = Infinity): Promise<File> {
  const r: Row | undefined = await within('readonly', (t) => t.objectStore(rows).get(id))
  const all: Piece[] = await within('readonly', (t) => t.objectStore(heap).getAll(every(id), Number.isFinite(pieces) ? pieces : undefined))
  if (!r || all.length === 0) throw new Error('this recording is not here any more')
  const type = r.type.split(';')[0] ?? ''
  const made = new Date(r.begun)
  const day = [made.getFullYear(), made.getMonth() + 1, made.getDate()].map((n) => String(n).padStart(2, '0')).join('-')
  return new File(
    all.map((p) => p.bytes),
    `${r.title || 'recording'} ${day}.${endings[type] ?? 'webm'}`,
    { type, lastModified: r.begun },
  )
}

const endings: Record<string, string> = { 'audio/mp4': 'm4a', 'video/mp4': 'mp4', 'audio/ogg': 'ogg', 'audio/webm': 'webm', 'video/webm': 'webm' }

// forget throws a recording away for good.
export async function forget(id: string): Promise<void> {
  queues.delete(id)
  await within('readwrite', (t) => {
    t.objectStore(rows).delete(id)
    return t.objectStore(heap).delete(every(id))
  })
}

// Room is how much the browser lets us keep, in bytes, and whether it may clear it by itself when the
// device runs out of room. Unknown is Infinity. Some browsers say the same large number to everybody: what is
// said to be free may still end in NoRoom.
export interface Room {
  free: number
  lasting: boolean
}

// makeRoom asks the browser to keep what is here for good, and says how much fits.
export async function makeRoom(): Promise<Room> {
  const s = navigator.storage
  if (!s) return { free: Infinity, lasting: false }
  const lasting = await (s.persist ? s.persist() : Promise.resolve(false)).catch(() => false)
  const e = await s.estimate().catch((): StorageEstimate => ({}))
  return { free: e.quota === undefined ? Infinity : e.quota - (e.usage ?? 0), lasting }
}
