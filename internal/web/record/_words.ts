// _words.ts says days and lengths in the language of the page.

export type Words = Record<string, string>

export function fill(text: string | undefined, blanks: Record<string, string | number>): string {
  return (text ?? '').replace(/\{(\w+)\}/g, (_, k: string) => String(blanks[k] ?? ''))
}

// clock is a length, 3:05.
export function clock(seconds: number): string {
  const s = Math.floor(seconds)
  return `${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')}`
}

export function time(at: number): string {
  return new Intl.DateTimeFormat(lang(), { hour: 'numeric', minute: '2-digit', hourCycle: 'h23' }).format(at)
}

// onDay says of a recording when it was made: phrases key.today, key.yesterday, or key with {day}.
export function onDay(words: Words, key: string, at: number): string {
  const days = Math.round((midnight(Date.now()) - midnight(at)) / 864e5)
  if (days <= 0) return words[`${key}.today`] ?? ''
  if (days === 1) return words[`${key}.yesterday`] ?? ''
  const as: Intl.DateTimeFormatOptions = days < 7 ? { weekday: 'long' } : { day: 'numeric', month: 'long' }
  return fill(words[key], { day: new Intl.DateTimeFormat(lang(), as).format(at) })
}

function midnight(at: number): number {
  return new Date(at).setHours(0, 0, 0, 0)
}

const lang = (): string => document.documentElement.lang || 'en'
