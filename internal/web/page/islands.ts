// islands.ts brings to life what has data-island="name": it loads /assets/name.js and calls its mount.
// A page without scripts stays whole; an island that does not load leaves the page as it was.

interface Island {
  mount(root: HTMLElement): () => void
}

const version = new URL(import.meta.url).search

async function wake(root: HTMLElement): Promise<void> {
  if (root.dataset.awake) return
  root.dataset.awake = 'coming'
  for (const name of (root.dataset.island ?? '').split(' ').filter(Boolean)) {
    const island = (await import(new URL(`./${name}.js${version}`, import.meta.url).href)) as Island
    island.mount(root)
  }
  root.dataset.awake = 'yes'
}

function wakeAll(): void {
  for (const root of document.querySelectorAll<HTMLElement>('[data-island]')) {
    wake(root).catch((e: unknown) => console.error('island', root.dataset.island, e))
  }
}

document.documentElement.classList.add('js')
wakeAll()
// A part that was put in later may hold islands of its own.
document.addEventListener('part', wakeAll)
