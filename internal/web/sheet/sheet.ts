// sheet.ts: <div data-island="sheet" data-source="/sheets/…?from=3">. It fetches the music set for the
// width that it has, puts it into the page, and writes each bar in words for a screen reader. When the
// music is there it sends the event "sheet" (bubbling) with what the server said.

export interface Bar {
  Index: number
  Number: string
  Say: string
}

export interface SheetEvent {
  svg: SVGSVGElement
  bars: Bar[]
  width: number
}

/** The width classes of the server. Music set for one is scaled by at most a fifth up or down. */
const classes = [360, 560, 900, 1200]

// What may be said otherwise by data-words, a JSON object with these keys.
const ownWords = {
  words: 'The music in words',
  unset: 'The music could not be set.',
  unfetched: 'The music could not be fetched. Load the page again.',
}

let sheets = 0

/** The class whose scale comes nearest to 1, in ratio. */
function classFor(width: number): number {
  const off = (c: number) => Math.abs(Math.log(width / c))
  return classes.reduce((best, c) => (off(c) < off(best) ? c : best))
}

export function mount(root: HTMLElement): () => void {
  const source = root.dataset.source ?? ''
  const prefix = sheets++ > 0 ? `s${sheets}-` : ''
  const says = { ...ownWords, ...(JSON.parse(root.dataset.words ?? '{}') as Partial<typeof ownWords>) }
  let shown = 0
  let asked = 0
  root.dataset.prefix = prefix

  async function show(width: number): Promise<void> {
    asked = width
    const address = new URL(source, location.href)
    address.searchParams.set('width', String(width))
    if (prefix) address.searchParams.set('prefix', prefix)
    const answer = await fetch(address, { headers: { Accept: 'application/json' } })
    const said = (await answer.json()) as { svg: string; bars: Bar[]; lang?: string; say?: string }
    if (asked !== width) return // a later wish has overtaken this one
    if (!answer.ok) throw new Error(said.say ?? says.unset)
    const drawn = new DOMParser().parseFromString(said.svg, 'image/svg+xml').documentElement
    const svg = document.importNode(drawn, true) as unknown as SVGSVGElement
    // In words below; the picture itself would be read as a heap of digits.
    svg.setAttribute('aria-hidden', 'true')
    const words = document.createElement('ol')
    words.className = 'vh'
    words.setAttribute('aria-label', says.words)
    for (const bar of said.bars) {
      const line = document.createElement('li')
      line.textContent = bar.Say
      line.lang = said.lang ?? 'en'
      line.dataset.bar = String(bar.Index)
      words.append(line)
    }
    root.replaceChildren(svg, words)
    shown = width
    root.dispatchEvent(new CustomEvent<SheetEvent>('sheet', { bubbles: true, detail: { svg, bars: said.bars, width } }))
  }

  function fit(): void {
    const width = root.clientWidth
    if (width < 1) return
    const wanted = classFor(width)
    if (wanted === asked) return
    show(wanted).catch((e: unknown) => {
      asked = shown
      if (shown) return // the one at the other width still serves
      const words = document.createElement('p')
      words.className = 'quiet'
      words.textContent = e instanceof Error && !(e instanceof TypeError) && e.message ? e.message : says.unfetched
      root.replaceChildren(words)
    })
  }

  const watch = new ResizeObserver(fit)
  watch.observe(root)
  fit()
  return () => watch.disconnect()
}
