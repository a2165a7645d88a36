// _wave.ts: the outline of the sound with the passes, bar lines and restarts laid out over it. The range
// input that lies over the picture does the work: it is pressed, dragged, or moved by the arrow keys.
import type { Heard } from './_heard'

interface Outline {
  perS: number
  low: Int8Array
  high: Int8Array
}

/** Reads the outline that the server keeps: "APK1", pairs a second, number of pairs, scale, then pairs of int8. */
export function readOutline(b: ArrayBuffer): Outline | null {
  if (b.byteLength < 16) return null
  const head = new DataView(b)
  if (head.getUint32(0) !== 0x41504b31) return null
  const perS = head.getUint32(4, true)
  const n = Math.min(head.getUint32(8, true), Math.floor((b.byteLength - 16) / 2))
  const pairs = new Int8Array(b, 16, 2 * n)
  const low = new Int8Array(n)
  const high = new Int8Array(n)
  for (let i = 0; i < n; i++) {
    low[i] = pairs[2 * i]!
    high[i] = pairs[2 * i + 1]!
  }
  return { perS, low, high }
}

export class Wave {
  private outline: Outline | null = null
  private readonly canvas: HTMLCanvasElement
  private readonly watch: ResizeObserver
  private readonly dark = matchMedia('(prefers-color-scheme: dark)')
  private readonly redraw = () => this.draw()

  constructor(
    private readonly root: HTMLElement,
    private heard: Heard | null,
    private durationS: number,
  ) {
    this.canvas = root.querySelector('canvas')!
    this.watch = new ResizeObserver(this.redraw)
    this.watch.observe(this.canvas)
    this.dark.addEventListener('change', this.redraw)
    const peaks = root.dataset.peaks
    if (peaks) {
      fetch(peaks)
        .then((a) => (a.ok ? a.arrayBuffer() : Promise.reject(new Error(String(a.status)))))
        .then((b) => {
          this.outline = readOutline(b)
          this.draw()
        })
        .catch(() => undefined) // without its outline the line of time still works
    }
  }

  show(heard: Heard | null, durationS: number): void {
    this.heard = heard
    this.durationS = durationS
    this.draw()
  }

  stop(): void {
    this.watch.disconnect()
    this.dark.removeEventListener('change', this.redraw)
  }

  private draw(): void {
    const c = this.canvas
    const dpr = window.devicePixelRatio || 1
    const wide = c.clientWidth
    const high = c.clientHeight
    if (wide < 2 || high < 2) return
    c.width = Math.round(wide * dpr)
    c.height = Math.round(high * dpr)
    const p = c.getContext('2d')
    if (!p) return
    p.scale(dpr, dpr)
    const style = getComputedStyle(this.root)
    const colour = (name: string) => style.getPropertyValue(name).trim()
    const total = Math.max(this.durationS, 0.1)
    const x = (s: number) => (s / total) * wide
    const foot = 16 // for the numbers of the bars
    const top = 15 // for those of the passes
    const mid = top + (high - foot - top) / 2
    const half = (high - foot - top) / 2 - 2
    p.font = `11px ${colour('--figures') || 'sans-serif'}`
    p.textBaseline = 'alphabetic'
    for (const pass of this.heard?.passes ?? []) {
      p.fillStyle = colour('--wash')
      p.fillRect(x(pass.from_s), top, Math.max(2, x(pass.to_s) - x(pass.from_s)), high - foot - top)
    }
    if (this.outline) {
      const o = this.outline
      p.fillStyle = colour('--soft')
      for (let px = 0; px < wide; px++) {
        const a = Math.floor(((px / wide) * total) * o.perS)
        const b = Math.max(a + 1, Math.floor((((px + 1) / wide) * total) * o.perS))
        let lo = 0
        let hi = 0
        for (let i = a; i < b && i < o.low.length; i++) {
          lo = Math.min(lo, o.low[i]!)
          hi = Math.max(hi, o.high[i]!)
        }
        const y0 = mid - (hi / 127) * half
        const y1 = mid - (lo / 127) * half
        p.fillRect(px, y0, 1, Math.max(1, y1 - y0))
      }
    } else {
      p.fillStyle = colour('--line')
      p.fillRect(0, mid, wide, 1)
    }
    this.bars(p, x, colour, wide, high, foot, top)
  }

  /** Bar lines with as many numbers as there is room for, and where each pass begins. */
  private bars(p: CanvasRenderingContext2D, x: (s: number) => number, colour: (n: string) => string, wide: number, high: number, foot: number, top: number): void {
    let last = -Infinity
    let lastPass = -Infinity
    const passes = this.heard?.passes ?? []
    for (const pass of passes) {
      for (const bar of pass.bars) {
        const at = Math.round(x(bar.from_s)) + 0.5
        if (bar.from_s < pass.from_s - 0.3) continue
        p.strokeStyle = colour('--soft')
        p.globalAlpha = 0.5
        p.beginPath()
        p.moveTo(at, top)
        p.lineTo(at, high - foot)
        p.stroke()
        p.globalAlpha = 1
        const w = p.measureText(bar.bar).width
        if (at - last > w + 10 && at + w < wide) {
          p.fillStyle = colour('--soft')
          p.fillText(bar.bar, at - 0.5, high - 4)
          last = at + w / 2
        }
      }
      if (passes.length < 2) continue
      const at = Math.round(x(pass.from_s))
      p.fillStyle = colour('--accent')
      p.fillRect(at, top - 3, 2, high - foot - top + 3)
      const label = String(pass.n)
      if (at - lastPass > 14 && at + 12 < wide) {
        p.fillText(label, at, top - 5)
        lastPass = at
      }
    }
  }
}
