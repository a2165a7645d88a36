// lesson.ts saves a draft while it is being written. The form stays a form: without this it is saved by its
// buttons. What could not be saved (no network, a second window) is kept in this browser until it is, or
// until it is let go, so a closed window loses nothing.
import { forget as unpack } from '../arrive/_outbox'
import { say } from '../page/_say'
import { canRecord } from '../record/_tape'
import { type Taken, forget, takes } from '../record/_vault'
import { type Field, type Kept, fieldsOf, offer, putBack, same, shelfOf } from './_kept'

const pause = 900 // ms without a key before it is saved
const again = 8000 // ms until the next try where the network is gone
const beaconMost = 60000 // bytes that a browser sends after its page is gone: 64 KiB by the Fetch standard

export function mount(root: HTMLElement): () => void {
  const shelf = shelfOf(root.dataset.address ?? '')
  const clash = root.querySelector<HTMLElement>('[data-clash]')
  if (!(root instanceof HTMLFormElement)) {
    // The lesson is sent. What was written here and never arrived is shown once more.
    const kept = shelf.read()
    if (kept?.handedIn) shelf.clear()
    else if (kept && clash) offer(clash, kept, shelf)
    return () => undefined
  }
  return editing(root, clash, shelf)
}

function editing(form: HTMLFormElement, clash: HTMLElement | null, shelf: ReturnType<typeof shelfOf>): () => void {
  const version = form.elements.namedItem('version') as HTMLInputElement
  const told = form.querySelector<HTMLElement>('[data-saved]')
  const address = form.dataset.address ?? ''
  let timer = 0
  let dirty = false
  let clashed = false
  let through = false
  let running: Promise<void> = Promise.resolve()

  const tell = (words: string): void => {
    if (told) told.textContent = words
  }
  const keepHere = (handedIn = false): void => {
    const kept: Kept = { version: version.value, fields: fieldsOf(form), handedIn }
    shelf.write(kept)
  }
  const warn = (words: string): void => {
    clashed = true
    tell('Not saved.')
    if (clash) {
      clash.hidden = false
      clash.textContent = words
    }
    say(words)
  }

  async function save(): Promise<void> {
    if (!dirty || clashed) return
    dirty = false
    const fields: Field[] = [...fieldsOf(form), ['end', 'yes'], ['family', (form.elements.namedItem('family') as HTMLInputElement | null)?.value ?? ''], ['version', version.value], ['act', 'save']]
    const body = new URLSearchParams(fields)
    tell('Saving …')
    try {
      const answer = await fetch(address, { method: 'POST', headers: { Accept: 'application/json' }, body, keepalive: body.toString().length < beaconMost })
      const said = (await answer.json()) as { version?: number; saved?: string; say?: string; says?: Record<string, string>; music?: Record<string, string> }
      if (answer.ok && said.version) {
        version.value = String(said.version)
        if (dirty) keepHere()
        else shelf.clear()
        tell(said.saved ?? 'Saved.')
        for (const [id, words] of Object.entries(said.says ?? {})) {
          const place = document.getElementById(id)
          if (place && place.textContent !== words) place.textContent = words
        }
        for (const [n, at] of Object.entries(said.music ?? {})) {
          const place = document.querySelector<HTMLElement>(`#a${n} [data-music]`)
          if (!place || place.dataset.music === at) continue
          place.dataset.music = at
          place.dispatchEvent(new Event('music', { bubbles: true })) // the cards fetch it
        }
        return
      }
      dirty = true
      if (answer.status === 409) warn('Not saved: this lesson was changed or sent in another window. What you wrote is kept; press “Save and go on later” to see what can be done.')
      else tell(said.say ?? 'Not saved yet.')
    } catch {
      dirty = true
      tell('Not saved yet: no network. It is kept in this browser and saved as soon as there is one.')
      window.clearTimeout(timer)
      timer = window.setTimeout(run, again)
    }
  }
  // run lets one saving end before the next begins: each brings the version that the one before made.
  function run(): void {
    running = running.then(save)
  }
  const written = (e: Event): void => {
    if (['more', 'kind', 'sendat'].includes((e.target as HTMLInputElement).name)) return
    dirty = true
    keepHere()
    window.clearTimeout(timer)
    timer = window.setTimeout(run, pause)
  }
  // What is recorded and has not arrived would stay behind where the lesson goes out without it.
  async function behind(by: HTMLElement | null): Promise<boolean> {
    if (!(by instanceof HTMLButtonElement) || !/^(send|later)$/.test(by.value) || by.dataset.without || !canRecord()) return false
    const left = await takes({ kind: 'answer', child: address.split('/').pop() }).catch((): Taken[] => [])
    const first = left[0]
    if (!first || !clash) return false
    const p = document.createElement('p')
    p.textContent = `A recording is still in this browser and has not arrived: ${first.title}. Keep it or throw it away under “Say it aloud”, and wait until it is there.`
    const anyway = document.createElement('button')
    anyway.type = 'button'
    anyway.textContent = 'Send without it'
    anyway.addEventListener('click', () => {
      by.dataset.without = 'yes'
      form.requestSubmit(by)
    })
    clash.hidden = false
    clash.replaceChildren(p, anyway)
    clash.scrollIntoView({ block: 'center' })
    anyway.focus()
    say(p.textContent)
    return true
  }
  // A draft that is thrown away takes along what was recorded for it and is still in this browser, once it is really
  // gone. False where it is not: then the page is asked, which says why.
  async function thrown(by: HTMLElement | null): Promise<boolean> {
    if (!(by instanceof HTMLButtonElement) || by.value !== 'throw') return false
    const answer = await fetch(address, { method: 'POST', body: new URLSearchParams([['act', 'throw'], ['version', version.value]]) }).catch(() => null)
    if (!answer?.redirected || !answer.url.includes('done=thrown')) return false
    shelf.clear()
    if (canRecord()) {
      const left = await takes({ kind: 'answer', child: address.split('/').pop() }).catch((): Taken[] => [])
      await Promise.all(left.flatMap((t) => [forget(t.id).catch(() => undefined), unpack(t.id)]))
    }
    window.removeEventListener('pagehide', leave)
    location.assign(answer.url)
    return true
  }
  const submit = (e: SubmitEvent): void => {
    if (through) return
    e.preventDefault()
    window.clearTimeout(timer)
    const by = e.submitter
    const go = async (): Promise<void> => {
      if (await behind(by)) return
      dirty = false
      if (await thrown(by)) return
      keepHere(true)
      through = true
      form.requestSubmit(by)
      window.setTimeout(() => (through = false), 0)
    }
    // Not at once: while this submission is being fired, the browser ignores another (HTML, 4.10.21.3).
    running.finally(() => window.setTimeout(() => void go()))
  }
  // Another form of the page leads away: what is written here is saved before.
  const passed = new WeakSet<EventTarget>()
  const elsewhere = (e: SubmitEvent): void => {
    const other = e.target
    if (!(other instanceof HTMLFormElement) || other === form || !dirty || clashed || passed.has(other)) return
    e.preventDefault()
    window.clearTimeout(timer)
    const by = e.submitter
    run()
    running.finally(() => window.setTimeout(() => {
      passed.add(other)
      other.requestSubmit(by)
    }))
  }
  const leave = (): void => {
    if (dirty) run()
  }

  const kept = shelf.read()
  const arrived = kept?.handedIn && kept.version !== version.value && !form.dataset.unsaved
  if (kept && (arrived || same(kept.fields, fieldsOf(form)))) shelf.clear()
  else if (kept && kept.version === version.value && !form.dataset.unsaved && putBack(form, kept.fields)) {
    dirty = true
    tell('What was not saved last time is back.')
    timer = window.setTimeout(run, pause)
  } else if (kept && clash && !form.dataset.unsaved) {
    offer(clash, kept, shelf, () => {
      if (!putBack(form, kept.fields)) return false
      dirty = true
      run()
      return true
    })
  }
  form.addEventListener('input', written)
  form.addEventListener('submit', submit)
  document.addEventListener('submit', elsewhere)
  window.addEventListener('pagehide', leave)
  return () => {
    window.clearTimeout(timer)
    form.removeEventListener('input', written)
    form.removeEventListener('submit', submit)
    document.removeEventListener('submit', elsewhere)
    window.removeEventListener('pagehide', leave)
  }
}
