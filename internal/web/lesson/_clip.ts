// _clip.ts: one stretch of a recording in the form: a small player that plays just it, and sets its ends where the
// teacher hears them.

/** seconds reads "1:05.5" or "65,5"; NaN for what is no place. */
export function seconds(s: string): number {
  const parts = s.trim().replace(',', '.').split(':')
  if (parts.some((p) => !/^\d+(\.\d+)?$/.test(p))) return NaN
  return parts.reduce((at, p) => at * 60 + Number(p), 0)
}

/** place writes seconds as they are typed: "1:05.5". */
export function place(s: number): string {
  const tenths = Math.round(s * 10)
  const whole = `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, '0')}`
  return tenths % 10 ? `${whole}.${tenths % 10}` : whole
}

export class Clip {
  private readonly take: HTMLSelectElement | null
  private readonly from: HTMLInputElement | null
  private readonly to: HTMLInputElement | null
  private readonly player = document.createElement('audio')
  private readonly bar = document.createElement('p')
  private stopsAt = Infinity

  constructor(root: HTMLFieldSetElement, private readonly lesson: string) {
    this.take = root.querySelector('select')
    this.from = root.querySelector('input[name*=".from."]')
    this.to = root.querySelector('input[name*=".to."]')
    this.player.controls = true
    this.player.preload = 'none'
    this.player.setAttribute('aria-label', root.querySelector('legend')?.textContent ?? 'Clip')
    this.bar.className = 'buttons'
    this.button('Play the stretch', () => this.play())
    this.button('Begins here', () => this.set(this.from))
    this.button('Ends here', () => this.set(this.to))
    root.append(this.player, this.bar)
    this.take?.addEventListener('change', () => this.show())
    this.player.addEventListener('timeupdate', () => {
      if (this.player.currentTime >= this.stopsAt) this.player.pause()
    })
    this.player.addEventListener('pause', () => (this.stopsAt = Infinity))
    this.show()
  }

  private button(say: string, press: () => void): void {
    const b = document.createElement('button')
    b.type = 'button'
    b.className = 'text'
    b.textContent = say
    b.addEventListener('click', press)
    this.bar.append(b)
  }

  private show(): void {
    const chosen = this.take?.value ?? ''
    this.player.hidden = this.bar.hidden = !chosen
    if (chosen) this.player.src = `${this.lesson}/listen/${encodeURIComponent(chosen)}`
    else this.player.removeAttribute('src')
  }

  private play(): void {
    const from = seconds(this.from?.value || '0')
    const to = seconds(this.to?.value || '')
    this.player.currentTime = Number.isFinite(from) ? from : 0
    this.stopsAt = to > from ? to : Infinity
    void this.player.play().catch(() => undefined) // the player itself shows that it cannot
  }

  private set(field: HTMLInputElement | null): void {
    if (!field) return
    field.value = place(this.player.currentTime)
    field.dispatchEvent(new Event('input', { bubbles: true })) // it is saved like what is typed
  }
}
