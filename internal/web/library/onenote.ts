// onenote.ts: <section data-island="onenote" data-again="…"> with the first way. A note that is pressed
// there leads to the other ways to take it. By keyboard the same is done with the list of bars below.
export function mount(root: HTMLElement): () => void {
  const gone = new AbortController()
  root.addEventListener('click', (e) => {
    const note = (e.target as Element).closest<SVGGElement>('g.note[id]')
    const sheet = note?.closest<HTMLElement>('.sheet')
    if (!note || !sheet) return
    const id = note.id.slice((sheet.dataset.prefix ?? '').length).replace(/t\d+$/, '')
    const address = new URL(root.dataset.again ?? '', location.href)
    address.searchParams.set('note', id)
    address.hash = `note-${id}`
    location.assign(address.href)
  }, { signal: gone.signal })
  return () => gone.abort()
}
