// moments.ts: in <section data-island="moments"> a link [data-at] goes to its moment in the recording that
// stands there. Without it the link opens the recording at that moment by itself.
export function mount(root: HTMLElement): () => void {
  const player = root.querySelector<HTMLMediaElement>(':scope > audio, :scope > video')
  if (!player) return () => {}
  const go = (e: Event) => {
    const link = (e.target as Element).closest<HTMLElement>('[data-at]')
    if (!link) return
    e.preventDefault()
    for (const other of root.querySelectorAll<HTMLMediaElement>('audio, video')) if (other !== player) other.pause()
    // A little before it, so that the ear is there when it comes.
    player.currentTime = Math.max(0, Number(link.dataset.at) - 1)
    player.play().catch(() => player.focus())
    player.scrollIntoView({ block: 'nearest' })
  }
  root.addEventListener('click', go)
  return () => root.removeEventListener('click', go)
}
