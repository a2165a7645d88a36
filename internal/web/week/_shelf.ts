// _shelf.ts is what the service worker keeps of the family's pages: each page with all that it names, and the
// films that somebody chose. It keeps for one person only, and forgets everything when another one is there.

export const pages = 'antiphon-week-1' // another number when what is kept is kept otherwise
export const films = 'antiphon-films-1'

/** The header in which the server says for whom an answer is: an opaque name, or "nobody". */
const whose = 'Antiphon-For'
/** The header that tells the server that nobody looks at it yet. */
const ahead = 'Antiphon-Ahead'
const notes = '/week/-notes' // an address that the server does not have

interface Notes {
  owner: string
  family?: string // whose recordings and taps may be on this phone, also once it is signed out
  widths: number[]
  missing: number // of what the week names, at the last keeping
}

/** keyOf is the address under which an answer is kept: without what makes no difference to it. */
export function keyOf(address: string): string {
  const u = new URL(address, location.origin)
  u.hash = ''
  if (u.pathname === '/week') for (const name of [...u.searchParams.keys()]) if (name !== 'child') u.searchParams.delete(name)
  if (u.pathname.startsWith('/sheets/')) u.searchParams.delete('prefix')
  u.searchParams.sort()
  return u.href
}

async function read(): Promise<Notes> {
  const r = await (await caches.open(pages)).match(notes)
  return r ? ((await r.json()) as Notes) : { owner: '', widths: [], missing: 1 }
}

async function write(n: Notes): Promise<void> {
  await (await caches.open(pages)).put(notes, new Response(JSON.stringify(n)))
}

/** measure keeps at which widths this screen shows music. */
export async function measure(widths: number[]): Promise<void> {
  const n = await read()
  n.widths = [...new Set([...n.widths, ...widths])].slice(-3)
  await write(n)
}

/** missing is how much of the week was not to be had; 1 and more where nothing is kept yet. */
export const missing = async (): Promise<number> => (await read()).missing

let forgotten = 0 // times: what was being kept meanwhile is not put away after all

/** forget throws everything away, and the log of taps with it unless it is of the same family. */
export async function forget(log = true): Promise<void> {
  forgotten++
  for (const name of await caches.keys()) if (name.startsWith('antiphon-')) await caches.delete(name)
  if (log) indexedDB.deleteDatabase('antiphon-log')
}

/**
 * mine tells whether an answer may be kept. What is here of somebody else is forgotten first; recordings that were not sent
 * yet only once the phone is another family's: they are nowhere else, and a phone that was signed out may come back.
 */
export async function mine(r: Response): Promise<boolean> {
  const name = r.headers.get(whose)
  if (!name) return false // a café's own sign-in page, for one
  if (name === 'nobody') {
    if (r.status === 401 || r.status === 403) {
      const { family } = await read()
      await forget()
      if (family) await write({ owner: '', family, widths: [], missing: 1 })
    }
    return false
  }
  const n = await read()
  const [family = ''] = name.split('.')
  const moved = n.family !== undefined && n.family !== family
  if (moved) for (const recordings of ['antiphon-vault', 'antiphon-outbox']) indexedDB.deleteDatabase(recordings)
  const other = n.owner !== '' && n.owner !== name
  if (moved || other) await forget(moved)
  if (n.owner !== name || n.family !== family) await write({ ...n, owner: name, family, missing: moved || other ? 1 : n.missing })
  return r.ok
}

/** find gives what is kept at an address; of music, at another width rather than none. */
export async function find(address: string): Promise<Response | undefined> {
  const key = keyOf(address)
  const how = { ignoreVary: true }
  const shelf = await caches.open(pages)
  const here = (await shelf.match(key, how)) ?? (await (await caches.open(films)).match(key, how))
  const u = new URL(key)
  if (here) return here
  if (u.pathname === '/week' && u.search) return shelf.match(new URL('/week', u).href, how)
  if (!u.pathname.startsWith('/sheets/')) return undefined
  u.searchParams.delete('width')
  for (const r of await shelf.keys()) {
    const other = new URL(r.url)
    other.searchParams.delete('width')
    if (other.href === u.href) return shelf.match(r, how)
  }
  return undefined
}

const attribute = (html: string, name: string): string[] =>
  [...html.matchAll(new RegExp(`\\s${name}="([^"]*)"`, 'g'))].map((m) => (m[1] ?? '').replaceAll('&amp;', '&').replaceAll('&#43;', '+'))

/** named are the addresses that an answer needs to be of use: first those without which it is broken. */
function named(kind: string, text: string, at: string, widths: number[]): { needed: string[]; wanted: string[] } {
  const needed: string[] = []
  const wanted: string[] = []
  if (kind.includes('javascript')) for (const m of text.matchAll(/["']\.\/(chunk-[\w-]+\.js)["']/g)) needed.push(`/assets/${m[1]}`)
  if (!kind.includes('html')) return { needed, wanted }
  let version = ''
  for (const tag of text.match(/<(?:link|script)\b[^>]*>/g) ?? []) {
    const to = attribute(tag, 'href')[0] ?? attribute(tag, 'src')[0] ?? ''
    if (to.startsWith('/assets/')) needed.push(to)
    if (to.startsWith('/assets/islands.js')) version = new URL(to, at).search
    if (/\sdata-keep[\s>=]/.test(tag) && to) wanted.push(to)
  }
  for (const list of attribute(text, 'data-island')) for (const name of list.split(' ').filter(Boolean)) needed.push(`/assets/${name}.js${version}`)
  for (const source of attribute(text, 'data-source')) {
    if (!source.startsWith('/sheets/')) continue
    for (const width of widths) {
      const u = new URL(source, at)
      u.searchParams.set('width', String(width))
      wanted.push(u.href)
    }
  }
  // Sounds come after the music: they may still have to be made.
  for (const list of attribute(text, 'data-keep')) wanted.push(...list.split(' ').filter(Boolean))
  return { needed, wanted }
}

/** Things that never change at their address. */
const lasting = (path: string): boolean => path.startsWith('/assets/') || path.startsWith('/media/')

/** Keeping puts one page away with all that it names, and the pages that it names with theirs. */
export class Keeping {
  private readonly seen = new Set<string>()
  private readonly filmed = new Set<string>()
  private missing = 0
  private readonly left: string[] = [] // what is wanted and could not be kept
  private crowded = false // the browser gave no room while the week before was here
  private readonly began = forgotten
  private readonly placed: (key: string) => void

  /** placed is called with the key of each thing once it is on the shelf. */
  constructor(placed: (key: string) => void = () => {}) {
    this.placed = placed
  }

  /** whole keeps the page and throws away what is named no more. Where the page itself cannot be kept, what was here stays. */
  async whole(address: string, first?: Response): Promise<void> {
    const here = await this.keep(address, first)
    if (forgotten !== this.began) return
    await write({ ...(await read()), missing: here ? this.missing : this.missing + 1 })
    if (!here) return
    const shelf = await caches.open(pages)
    for (const r of await shelf.keys()) {
      const u = new URL(r.url)
      if (!this.seen.has(r.url) && u.pathname !== notes) await shelf.delete(r)
    }
    const chosen = await caches.open(films)
    for (const r of await chosen.keys()) if (!this.filmed.has(r.url)) await chosen.delete(r)
    if (!this.crowded || this.missing === 0) return
    // The week before has gone only now: there may be room for what had none.
    const left = this.left.splice(0)
    this.missing = 0
    for (const a of left) this.seen.delete(keyOf(a))
    await this.want(left)
    if (forgotten === this.began) await write({ ...(await read()), missing: this.missing })
  }

  private async want(list: string[]): Promise<void> {
    for (const [i, ok] of (await each(list, (a) => this.keep(a))).entries()) {
      if (ok) continue
      this.missing++
      this.left.push(list[i] as string)
    }
  }

  private async keep(address: string, first?: Response): Promise<boolean> {
    const u = new URL(address, location.origin)
    const key = keyOf(address)
    if (u.origin !== location.origin || this.seen.has(key)) return true
    this.seen.add(key)
    const shelf = await caches.open(pages)
    const before = lasting(u.pathname) ? await shelf.match(key, { ignoreVary: true }) : undefined
    let answer = before ?? first
    let newer = true
    try {
      answer ??= await patiently(() => fetch(u, { credentials: 'same-origin', headers: { [ahead]: 'yes', ...(u.pathname.startsWith('/sheets/') ? { Accept: 'application/json' } : {}) } }))
      if (answer.status === 429 || answer.status >= 500) throw new Error(String(answer.status))
    } catch {
      // The network or the studio went away meanwhile: what is here stays, with all that it names.
      answer = await shelf.match(key, { ignoreVary: true })
      newer = false
    }
    if (!answer?.ok || answer.redirected) return false
    if (!before && newer && !u.pathname.startsWith('/assets/') && !(await mine(answer))) return false
    if (forgotten !== this.began) return false
    const kind = answer.headers.get('Content-Type') ?? ''
    if (/html|javascript/.test(kind)) {
      const { needed, wanted } = named(kind, await answer.clone().text(), u.href, (await read()).widths)
      // What a page cannot do without is here before the page is.
      for (const ok of await each(needed, (a) => this.keep(a))) if (!ok) return false
      if (forgotten !== this.began) return false
      if (!before && newer) await this.put(shelf, key, answer.clone())
      await this.want(wanted)
      for (const film of attribute(kind.includes('html') ? await answer.text() : '', 'data-film')) this.filmed.add(keyOf(film))
      return newer
    }
    if (!before && newer) await this.put(shelf, key, answer)
    return newer
  }

  /** put keeps an answer. Where the browser gives no more room, what only the week before names goes first. */
  private async put(shelf: Cache, key: string, answer: Response): Promise<void> {
    const again = answer.clone()
    try {
      await shelf.put(key, answer)
    } catch (err) {
      if ((err as DOMException).name !== 'QuotaExceededError') throw err
      this.crowded = true
      for (const r of await shelf.keys()) {
        const { pathname } = new URL(r.url)
        if (!this.seen.has(r.url) && /^\/(media|sheets|week\/sound)\//.test(pathname)) await shelf.delete(r)
      }
      await shelf.put(key, again)
    }
    this.placed(key)
  }
}

const tries = 8
const pause = 4000 // ms

/** patiently asks again for a sound that is still being made. */
async function patiently(ask: () => Promise<Response>): Promise<Response> {
  for (let i = 1; ; i++) {
    const answer = await ask()
    if (answer.status !== 429 || i === tries) return answer
    await new Promise((resolve) => setTimeout(resolve, pause))
  }
}

/** each does the same with several, four at a time. */
async function each(list: string[], act: (a: string) => Promise<boolean>): Promise<boolean[]> {
  const done: boolean[] = []
  for (let i = 0; i < list.length; i += 4) done.push(...(await Promise.all(list.slice(i, i + 4).map((a) => act(a).catch(() => false)))))
  return done
}

/** ranged is the part of a kept file that is asked for: players ask for parts, and a cache has only wholes. */
export async function ranged(request: Request, whole: Response): Promise<Response> {
  const asked = request.headers.get('Range')
  if (!asked) return whole
  const body = await whole.blob()
  const m = /^bytes=(\d*)-(\d*)$/.exec(asked)
  let from = Number(m?.[1])
  let until = m?.[2] ? Math.min(Number(m[2]), body.size - 1) : body.size - 1
  if (m && m[1] === '' && m[2] !== '') {
    from = Math.max(0, body.size - Number(m[2])) // the last so many bytes
    until = body.size - 1
  }
  const headers = new Headers(whole.headers)
  if (!m || from > until) {
    headers.set('Content-Range', `bytes */${body.size}`)
    return new Response(null, { status: 416, headers })
  }
  headers.set('Content-Range', `bytes ${from}-${until}/${body.size}`)
  headers.set('Content-Length', String(until - from + 1))
  return new Response(body.slice(from, until + 1), { status: 206, headers })
}
