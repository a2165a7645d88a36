// regret.ts: counts down, in words, how long a lesson can still be taken back. It counts the time that passes here:
// the clock of this device may differ from the studio's.
const words = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten']

export function mount(root: HTMLElement): () => void {
  const place = root.querySelector<HTMLElement>('[data-left]')
  const over = performance.now() + Number(root.dataset.seconds) * 1000
  const tell = (): void => {
    const left = over - performance.now()
    if (left <= 0) {
      window.clearInterval(timer)
      const p = document.createElement('p')
      p.className = 'quiet small'
      p.textContent = 'The ten minutes are over; the lesson stays sent.'
      root.replaceChildren(p)
      return
    }
    const minutes = Math.floor(left / 60_000)
    const say = minutes < 1 ? 'less than a minute is left' : minutes === 1 ? 'one minute is left' : `${words[minutes] ?? minutes} minutes are left`
    if (place && place.textContent !== say) place.textContent = say
  }
  const timer = window.setInterval(tell, 2000)
  tell()
  return () => window.clearInterval(timer)
}
