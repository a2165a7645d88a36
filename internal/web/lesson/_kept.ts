// _kept.ts holds what was typed and is not saved, in this browser.

export type Field = [name: string, value: string]

export interface Kept {
  version: string
  fields: Field[]
  handedIn: boolean // by a button of the form: whether it arrived, the next page shows
}

export interface Shelf {
  read(): Kept | null
  write(kept: Kept): void
  clear(): void
}

export function shelfOf(address: string): Shelf {
  const key = `antiphon.draft.${address}`
  return {
    read: () => {
      try {
        return JSON.parse(localStorage.getItem(key) ?? 'null') as Kept | null
      } catch {
        return null
      }
    },
    write: (kept) => {
      try {
        localStorage.setItem(key, JSON.stringify(kept))
      } catch {
        /* no room here: the saving to the studio goes on */
      }
    },
    clear: () => localStorage.removeItem(key),
  }
}

/** Fields that are about the form and not of the lesson. */
const passing = new Set(['version', 'more', 'kind', 'open', 'sendat', 'end', 'family'])

/** fieldsOf is everything of the lesson in the form, in its order. */
export function fieldsOf(form: HTMLFormElement): Field[] {
  return [...new FormData(form)].filter(([k, v]) => !passing.has(k) && typeof v === 'string').map(([k, v]) => [k, String(v)])
}

export function same(a: Field[], b: Field[]): boolean {
  return a.length === b.length && a.every(([k, v], i) => b[i]?.[0] === k && b[i]?.[1] === v)
}

type Control = HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement

/** putBack fills the form where the tasks are the same ones; false where they are not. */
export function putBack(form: HTMLFormElement, fields: Field[]): boolean {
  const controls = [...form.elements].filter((el): el is Control =>
    (el instanceof HTMLInputElement || el instanceof HTMLTextAreaElement || el instanceof HTMLSelectElement) && el.name !== '' && !passing.has(el.name))
  if (controls.length !== fields.length) return false
  // The ids of the tasks are what makes them the same; the ids of their works may have been chosen anew.
  if (controls.some((el, i) => el.name !== fields[i]?.[0] || (el.name === 'id' && el.value !== fields[i]?.[1]))) return false
  controls.forEach((el, i) => {
    el.value = fields[i]?.[1] ?? ''
  })
  return true
}

/** What a person wrote, and not chose. */
const written = /^(words$|(do|done|tone|dynamics|stroke|fingering|watch|coach|opens|ask\.say|ask\.explain|way\d)\.)/

/** offer shows what was written and never saved, to be put back, copied or let go. */
export function offer(place: HTMLElement, kept: Kept, shelf: Shelf, back?: () => boolean): void {
  place.hidden = false
  place.replaceChildren()
  const words = document.createElement('p')
  words.textContent = 'This was written here earlier and not saved; the lesson has changed since.'
  const label = document.createElement('label')
  label.textContent = 'What was written'
  const text = document.createElement('textarea')
  text.readOnly = true
  text.rows = 6
  text.id = 'kept-words'
  label.htmlFor = text.id
  text.value = kept.fields.filter(([k, v]) => v && written.test(k)).map(([, v]) => v).join('\n\n')
  const buttons = document.createElement('p')
  buttons.className = 'buttons'
  const button = (say: string, press: () => void): void => {
    const b = document.createElement('button')
    b.type = 'button'
    b.textContent = say
    b.addEventListener('click', press)
    buttons.append(b)
  }
  const done = (): void => {
    place.hidden = true
    place.replaceChildren()
  }
  if (back) {
    button('Put it back', () => {
      if (back()) done()
      else words.textContent = 'Other works are asked for now, so it cannot be put back by itself. Copy what you need.'
    })
  }
  button('Let it go', () => {
    shelf.clear()
    done()
  })
  place.append(words, label, text, buttons)
}
