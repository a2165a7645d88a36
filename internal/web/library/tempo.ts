import { say } from '../page/_say'

// tempo.ts: <section data-island="tempo"> with an <audio> and the form of its tempo. A new tempo is
// heard without loading the page again.
export function mount(root: HTMLElement): () => void {
  const audio = root.querySelector('audio')
  const form = root.querySelector('form')
  if (!audio || !form) return () => {}
  const gone = new AbortController()

  const set = () => {
    const bpm = form.querySelector<HTMLInputElement>('input[name=bpm]')
    if (!bpm?.reportValidity()) return
    const address = new URL(audio.src)
    address.searchParams.delete('bpm')
    address.searchParams.delete('click')
    if (bpm.value) address.searchParams.set('bpm', bpm.value)
    if (form.querySelector<HTMLInputElement>('input[name=click]')?.checked) address.searchParams.set('click', 'yes')
    if (address.href === audio.src) return
    const playing = !audio.paused
    audio.src = address.href
    say(`The sound is made at ${bpm.value} a minute.`)
    if (playing) audio.play().catch(() => {})
  }

  form.addEventListener('submit', (e) => { e.preventDefault(); set() }, { signal: gone.signal })
  form.addEventListener('change', set, { signal: gone.signal })
  audio.addEventListener('waiting', () => say('The sound is being made.'), { signal: gone.signal })
  audio.addEventListener('error', () => {
    if (audio.getAttribute('src')) say('The sound could not be made. Try another tempo, or load the page again.')
  }, { signal: gone.signal })
  return () => gone.abort()
}
