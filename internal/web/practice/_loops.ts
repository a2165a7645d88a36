// _loops.ts plays short moments round and round: like this, not like this, the child's best one and the last one.

const edgeS = 0.008 // so that the join does not crack
const gain = 0.6

export class Loops {
  private source: AudioBufferSourceNode | null = null
  private button: HTMLElement | null = null
  private asked = 0

  constructor(
    private readonly root: HTMLElement,
    private readonly say: (words: string) => void,
    private readonly words: Record<string, string>,
    private readonly context: () => AudioContext,
  ) {
    root.addEventListener('click', (e) => {
      const b = e.target instanceof Element ? e.target.closest<HTMLElement>('[data-clip]') : null
      if (b) void this.turn(b)
    })
  }

  private async turn(b: HTMLElement): Promise<void> {
    const was = this.button
    this.stop()
    if (was === b) return
    this.button = b
    b.setAttribute('aria-pressed', 'true')
    const mine = ++this.asked
    try {
      const ctx = this.context()
      const woken = ctx.resume()
      this.root.querySelector<HTMLElement>('[data-do=stop]:not([hidden])')?.click()
      const answer = await fetch(b.dataset.clip ?? '')
      if (!answer.ok) throw new Error(String(answer.status))
      const buffer = soft(await ctx.decodeAudioData(await answer.arrayBuffer()))
      await woken
      if (mine !== this.asked || this.button !== b) return
      const loud = ctx.createGain()
      loud.gain.value = gain
      const source = ctx.createBufferSource()
      source.buffer = buffer
      source.loop = true
      source.connect(loud).connect(ctx.destination)
      source.start()
      this.source = source
      this.say(this.words['clip.stop'] ?? '')
    } catch {
      if (mine !== this.asked) return
      this.stop()
      this.say(this.words[navigator.onLine ? 'failed' : 'away'] ?? '')
    }
  }

  stop(): void {
    this.asked++
    this.source?.stop()
    this.source = null
    this.button?.setAttribute('aria-pressed', 'false')
    this.button = null
  }
}

/** Takes the ends in and out, since a stretch of a recording begins and ends anywhere. */
function soft(buffer: AudioBuffer): AudioBuffer {
  const n = Math.min(Math.round(edgeS * buffer.sampleRate), buffer.length >> 1)
  for (let c = 0; c < buffer.numberOfChannels; c++) {
    const pcm = buffer.getChannelData(c)
    for (let i = 0; i < n; i++) {
      pcm[i]! *= i / n
      pcm[pcm.length - 1 - i]! *= i / n
    }
  }
  return buffer
}
