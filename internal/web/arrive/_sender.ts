// _sender.ts sends one parcel, for as long as it takes: over lost networks and a sleeping phone, from
// where the server says that it stopped. Behind the pages, where nobody waits, Attempt tries once.

import { DetailedError, Upload } from 'tus-js-client'
import { keep, type Parcel } from './_outbox'
import { Fetching } from './_fetching'

export interface Arrived {
  take: string // "" for a file without a name
  before: boolean // it was sent before
}

export interface Watcher {
  moved(sent: number, all: number): void
  waits(full: boolean): void // for the network, or where the studio's disk is full for room
}

// Refused is what no further try mends; its message is the server's sentence for a person.
export class Refused extends Error {}

// Stopped is the person's own wish.
export class Stopped extends Error {}

const piece = 8 << 20 // bytes of one request: behind a proxy that saves up requests no more is lost
const pauses = [1, 2, 4, 8, 15, 30] // s; then every 30

export class Sender {
  private attempt?: Attempt
  private stopped = false
  private wake: () => void = () => undefined

  constructor(
    private readonly parcel: Parcel,
    private readonly watcher: Watcher,
  ) {}

  // send resolves when the studio has the recording; it throws Refused or Stopped.
  async send(): Promise<Arrived> {
    const again = (): void => this.wake()
    const seen = (): void => {
      if (document.visibilityState === 'visible') this.wake()
    }
    window.addEventListener('online', again)
    document.addEventListener('visibilitychange', seen)
    const awake = new Awake()
    try {
      for (let failed = 0; ; failed++) {
        try {
          await awake.hold()
          this.attempt = new Attempt(this.parcel, (sent, all) => {
            failed = 0
            this.watcher.moved(sent, all)
          })
          return await this.attempt.run()
        } catch (e) {
          if (this.stopped) throw new Stopped()
          const say = refusal(e)
          if (say) throw new Refused(say)
          this.watcher.waits(e instanceof DetailedError && e.originalResponse?.getStatus() === 507)
          await this.pause(1000 * (pauses[Math.min(failed, pauses.length - 1)] ?? 30))
          if (this.stopped) throw new Stopped()
        }
      }
    } finally {
      awake.release()
      window.removeEventListener('online', again)
      document.removeEventListener('visibilitychange', seen)
    }
  }

  // stop gives the recording up, here and on the server.
  async stop(): Promise<void> {
    this.stopped = true
    this.wake()
    await this.attempt?.abort(this.parcel.url !== '').catch(() => undefined)
  }

  // hurry tries again at once.
  hurry(): void {
    this.wake()
  }

  private pause(ms: number): Promise<void> {
    return new Promise((resolve) => {
      const timer = window.setTimeout(resolve, ms)
      this.wake = () => {
        window.clearTimeout(timer)
        resolve()
      }
    })
  }
}

// Attempt sends a parcel once, from where the server has it. What goes wrong is thrown as the protocol's
// library has it; refusal says which of it no further try mends.
export class Attempt {
  private upload?: Upload

  constructor(
    private readonly parcel: Parcel,
    private readonly moved: (sent: number, all: number) => void,
  ) {}

  run(): Promise<Arrived> {
    const p = this.parcel
    return new Promise((resolve, reject) => {
      const file = p.file
      if (!file) {
        reject(new Refused('The recording is not here any more.'))
        return
      }
      this.upload = new Upload(file, {
        endpoint: '/uploads/',
        uploadUrl: p.url || null,
        metadata: { ...p.said, kind: p.kind, filename: p.name, filetype: p.type },
        headers: { Accept: 'application/json' },
        chunkSize: piece,
        retryDelays: null,
        storeFingerprintForResuming: false,
        ...(typeof XMLHttpRequest === 'undefined' ? { httpStack: new Fetching() } : {}),
        onUploadUrlAvailable: () => {
          if (!this.upload?.url || this.upload.url === p.url) return
          p.url = this.upload.url
          void keep(p)
        },
        onProgress: this.moved,
        onError: reject,
        onSuccess: ({ lastResponse }) =>
          resolve({ take: lastResponse.getHeader('Antiphon-Take') ?? '', before: lastResponse.getHeader('Antiphon-Before') === 'yes' }),
      })
      this.upload.start()
    })
  }

  // abort stops, and with everywhere the server forgets what it has.
  async abort(everywhere: boolean): Promise<void> {
    await this.upload?.abort(everywhere)
  }
}

// refusal is the server's sentence where trying again is of no use; "" where it is.
export function refusal(e: unknown): string {
  if (e instanceof Refused) return e.message
  if (!(e instanceof DetailedError) || !e.originalResponse) return ''
  const status = e.originalResponse.getStatus()
  if (status < 400 || status >= 500 || [408, 409, 423, 425].includes(status)) return ''
  try {
    return (JSON.parse(e.originalResponse.getBody() ?? '') as { say?: string }).say ?? ''
  } catch {
    return status === 429 ? '' : 'This was not taken. Load the page again and send it once more.'
  }
}

// Awake keeps the screen on while a recording is sent, where the browser can: a phone that sleeps stops sending.
class Awake {
  private lock?: WakeLockSentinel

  async hold(): Promise<void> {
    if (!('wakeLock' in navigator) || document.visibilityState !== 'visible') return
    if (this.lock && !this.lock.released) return
    this.lock = await navigator.wakeLock.request('screen').catch(() => undefined)
  }

  release(): void {
    void this.lock?.release()
  }
}
