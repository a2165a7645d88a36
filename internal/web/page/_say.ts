// say tells what happened in words, to the eye and to a screen reader.
export function say(words: string): void {
  const place = document.getElementById('said')
  if (!place) return
  place.textContent = words
  place.classList.add('fresh')
  window.setTimeout(() => place.classList.remove('fresh'), 6000)
}

// send posts JSON (or a form) to our own server; a refusal is thrown with the sentence for a person.
export async function send<T>(address: string, body: unknown, method = 'POST'): Promise<T> {
  const form = body instanceof FormData
  const answer = await fetch(address, {
    method,
    headers: form ? { Accept: 'application/json' } : { Accept: 'application/json', 'Content-Type': 'application/json' },
    body: form ? body : JSON.stringify(body),
  })
  const text = await answer.text()
  if (!answer.ok) {
    let words = 'That did not work. Try again in a moment.'
    try {
      words = (JSON.parse(text) as { say?: string }).say ?? words
    } catch {
      /* no JSON: the words above */
    }
    throw new Error(words)
  }
  return (text ? JSON.parse(text) : undefined) as T
}
