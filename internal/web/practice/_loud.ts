// _loud.ts is how loud guitar, second part and click are: three sliders, kept on this phone. The top of a slider
// is the sound as it was made, soft enough for children at any usual setting; the beginning lies below it.

export interface Loud {
  guitar: number // gains, 0 to 1
  second: number
  click: number
  clicks: boolean // through the music
}

const key = 'antiphon-loud'
const usual = { guitar: 75, second: 75, click: 60, clicks: false }

export function loudness(root: HTMLElement, changed: () => void): { now(): Loud } {
  let values = { ...usual }
  try {
    values = { ...usual, ...(JSON.parse(localStorage.getItem(key) ?? '{}') as Partial<typeof usual>) }
  } catch {
    /* a browser that keeps nothing begins as usual */
  }
  const kept = (): void => {
    try {
      localStorage.setItem(key, JSON.stringify(values))
    } catch {
      /* as above */
    }
    changed()
  }
  for (const name of ['guitar', 'second', 'click'] as const) {
    const slider = root.querySelector<HTMLInputElement>(`input[type=range][name=${name}]`)
    if (!slider) continue
    slider.value = String(values[name])
    slider.addEventListener('input', () => {
      values[name] = Number(slider.value)
      kept()
    })
  }
  const box = root.querySelector<HTMLInputElement>('input[name=clicks]')
  if (box) {
    box.checked = values.clicks
    box.addEventListener('change', () => {
      values.clicks = box.checked
      kept()
    })
  }
  const gain = (v: number): number => Math.min(1, Math.max(0, v / 100)) ** 2
  return { now: () => ({ guitar: gain(values.guitar), second: gain(values.second), click: gain(values.click), clicks: values.clicks }) }
}
