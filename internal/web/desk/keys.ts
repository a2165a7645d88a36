// keys.ts: single keys for what has data-key="n" on the page. The element is what the key does: it is
// clicked, so that everything works without keys too. ? lists them; on this device they can be switched
// off, since a voice control or a cat on the keyboard presses single keys as well (WCAG 2.2, 2.1.4).

const setting = 'antiphon.keys'

function off(): boolean {
  return localStorage.getItem(setting) === 'off'
}

function typing(e: KeyboardEvent): boolean {
  const at = e.target as HTMLElement
  if (at instanceof HTMLInputElement) {
    if (at.type === 'range') return e.key.length > 1 // the arrows and their like are its own
    if (/^(checkbox|button|submit)$/.test(at.type)) return false
  }
  return at.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(at.tagName)
}

// Keys that a keyboard shows as a sign, with their names for who hears the list.
const signs: Record<string, [sign: string, name: string]> = {
  ArrowLeft: ['←', 'left arrow'],
  ArrowRight: ['→', 'right arrow'],
  ArrowUp: ['↑', 'up arrow'],
  ArrowDown: ['↓', 'down arrow'],
  '.': ['.', 'full stop'],
  ',': [',', 'comma'],
}

function keycap(key: string): HTMLElement {
  const kbd = document.createElement('kbd')
  const [sign, name] = signs[key] ?? [key, '']
  if (!name) {
    kbd.textContent = sign
    return kbd
  }
  const seen = document.createElement('span')
  seen.setAttribute('aria-hidden', 'true')
  seen.textContent = sign
  const heard = document.createElement('span')
  heard.className = 'vh'
  heard.textContent = name
  kbd.append(seen, heard)
  return kbd
}

function named(el: HTMLElement): string {
  return el.dataset.does ?? el.getAttribute('aria-label') ?? el.textContent?.trim() ?? ''
}

function list(root: HTMLElement): HTMLDialogElement {
  const dialog = document.createElement('dialog')
  dialog.className = 'keys'
  dialog.setAttribute('aria-labelledby', 'keys-title')
  const title = document.createElement('h2')
  title.id = 'keys-title'
  title.textContent = 'Keys on this page'
  const facts = document.createElement('dl')
  facts.className = 'facts'
  const row = (key: string, does: string): void => {
    const dt = document.createElement('dt')
    dt.append(keycap(key))
    const dd = document.createElement('dd')
    dd.textContent = does
    facts.append(dt, dd)
  }
  const seen = new Set<string>()
  for (const el of root.querySelectorAll<HTMLElement>('[data-key]')) {
    const key = el.dataset.key ?? ''
    if (!seen.has(key)) row(key, named(el))
    seen.add(key)
  }
  row('?', 'This list')
  const label = document.createElement('label')
  const box = document.createElement('input')
  box.type = 'checkbox'
  box.checked = !off()
  box.addEventListener('change', () => localStorage.setItem(setting, box.checked ? 'on' : 'off'))
  label.append(box, ' Single keys do something on this device')
  const form = document.createElement('form')
  form.method = 'dialog'
  const close = document.createElement('button')
  close.textContent = 'Close'
  form.append(close)
  dialog.append(title, facts, label, form)
  dialog.addEventListener('close', () => dialog.remove())
  return dialog
}

export function mount(root: HTMLElement): () => void {
  const show = (): void => {
    if (document.querySelector('dialog.keys')) return
    const dialog = list(root)
    document.body.append(dialog)
    dialog.showModal()
  }
  const press = (e: KeyboardEvent): void => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.defaultPrevented || typing(e) || off() || document.querySelector('dialog[open]')) return
    if (e.key === '?') {
      e.preventDefault()
      show()
      return
    }
    for (const el of root.querySelectorAll<HTMLElement>('[data-key]')) {
      if (el.dataset.key !== e.key) continue
      e.preventDefault()
      el.click()
      return
    }
  }
  const pointed = (e: Event): void => {
    if ((e.target as HTMLElement).closest('[data-keys]')) show()
  }
  document.addEventListener('keydown', press)
  root.addEventListener('click', pointed)
  return () => {
    document.removeEventListener('keydown', press)
    root.removeEventListener('click', pointed)
  }
}
