// phone.ts: <section data-island="phone"> with a button [data-clear]: what this phone keeps of the family's pages is
// thrown away. What was tapped and is not sent yet stays: it is nowhere else.
export function mount(root: HTMLElement): () => void {
  const button = root.querySelector<HTMLButtonElement>('[data-clear]')
  const said = root.querySelector<HTMLElement>('[data-cleared]')
  if (!button || !said || !('caches' in window)) return () => {}
  const clear = async (): Promise<void> => {
    for (const name of await caches.keys()) if (name.startsWith('antiphon-')) await caches.delete(name)
    said.hidden = false
  }
  const click = (): void => void clear()
  button.addEventListener('click', click)
  return () => button.removeEventListener('click', click)
}
