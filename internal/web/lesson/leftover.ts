// leftover.ts: a lesson is sent, and a recording for it is still in this browser: it is heard here once more, and saved
// as a file or thrown away. It does not vanish without a word.
import { forget as unpack } from '../arrive/_outbox'
import { canRecord } from '../record/_tape'
import { file, forget, takes } from '../record/_vault'

export function mount(root: HTMLElement): () => void {
  const urls: string[] = []
  const show = async (): Promise<void> => {
    if (!canRecord()) return
    for (const t of await takes({ kind: 'answer', child: root.dataset.lesson })) {
      if (t.state === 'making') continue
      const what = await file(t.id)
      const url = URL.createObjectURL(what)
      urls.push(url)
      const box = document.createElement('div')
      box.className = 'caution'
      const words = document.createElement('p')
      words.textContent = `A recording for “${t.title}” is still in this browser. It did not go out with this lesson.`
      const player = document.createElement(what.type.startsWith('video/') ? 'video' : 'audio')
      player.controls = true
      player.src = url
      player.setAttribute('aria-label', `Recording for ${t.title}`)
      const row = document.createElement('p')
      row.className = 'buttons'
      const save = document.createElement('a')
      save.className = 'button'
      save.href = url
      save.download = what.name
      save.textContent = 'Save it as a file'
      const drop = document.createElement('button')
      drop.type = 'button'
      drop.className = 'text'
      drop.textContent = 'Throw it away'
      drop.addEventListener('click', () => void Promise.all([forget(t.id), unpack(t.id)]).then(() => box.remove()))
      row.append(save, drop)
      box.append(words, player, row)
      root.append(box)
    }
  }
  void show().catch(() => undefined) // no vault in this window: there is nothing to show
  return () => {
    for (const u of urls) URL.revokeObjectURL(u)
  }
}
