// _upload.ts sends one recording to the studio and says how far it is.

export class Refused extends Error {}

/** upload sends a file; progress is told from 0 to 1. Refused is what the studio says; any other error is the network. */
export function upload(address: string, file: Blob, progress: (share: number) => void, signal: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    const r = new XMLHttpRequest() // fetch does not tell how much of a body has gone
    r.open('POST', address)
    r.setRequestHeader('Accept', 'application/json')
    r.setRequestHeader('Content-Type', file.type || 'application/octet-stream')
    r.upload.addEventListener('progress', (e) => {
      if (e.lengthComputable && e.total > 0) progress(e.loaded / e.total)
    })
    r.addEventListener('load', () => {
      if (r.status >= 200 && r.status < 300) resolve()
      else if (r.status >= 500) reject(new Error('the studio does not answer'))
      else reject(new Refused(sentence(r.responseText)))
    })
    r.addEventListener('error', () => reject(new Error('no network')))
    r.addEventListener('abort', () => reject(new DOMException('given up', 'AbortError')))
    signal.addEventListener('abort', () => r.abort())
    r.send(file)
  })
}

function sentence(text: string): string {
  try {
    return (JSON.parse(text) as { say?: string }).say ?? 'The studio did not take it. Load the page again.'
  } catch {
    return 'The studio did not take it. Load the page again.'
  }
}
