// _record.ts: the teacher says or films a remark. What was recorded is played back before it is kept.

const sorts = {
  voice: ['audio/mp4;codecs=mp4a.40.2', 'audio/webm;codecs=opus', 'audio/ogg;codecs=opus'],
  video: ['video/mp4;codecs=avc1.42E01E,mp4a.40.2', 'video/webm;codecs=vp8,opus', 'video/webm'],
}

/** A remark is short; a long one would be a lesson. Our choice. */
const longestS = 120

export type Sort = keyof typeof sorts

export class Recorder {
  private recorder: MediaRecorder | null = null
  private stream: MediaStream | null = null
  private timer = 0

  static can(): boolean {
    return 'MediaRecorder' in window && !!navigator.mediaDevices
  }

  get running(): boolean {
    return this.recorder?.state === 'recording'
  }

  /** Records until stop() or for two minutes at most; gives what was recorded. */
  async run(sort: Sort, seen: (stream: MediaStream) => void): Promise<Blob> {
    this.stream = await navigator.mediaDevices.getUserMedia({
      audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
      video: sort === 'video' ? { width: { ideal: 960 }, height: { ideal: 540 } } : false,
    })
    seen(this.stream)
    const type = sorts[sort].find((t) => MediaRecorder.isTypeSupported(t))
    const recorder = new MediaRecorder(this.stream, type ? { mimeType: type } : undefined)
    this.recorder = recorder
    const parts: Blob[] = []
    recorder.addEventListener('dataavailable', (e) => parts.push(e.data))
    const whole = new Promise<Blob>((done) => {
      recorder.addEventListener('stop', () => {
        this.release()
        done(new Blob(parts, { type: (recorder.mimeType || type || '').split(';')[0] }))
      })
    })
    recorder.start(1000)
    this.timer = window.setTimeout(() => this.stop(), longestS * 1000)
    return whole
  }

  stop(): void {
    window.clearTimeout(this.timer)
    if (this.recorder && this.recorder.state !== 'inactive') this.recorder.stop()
    else this.release()
  }

  private release(): void {
    this.stream?.getTracks().forEach((t) => t.stop())
    this.stream = null
  }
}
