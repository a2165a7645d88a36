// _fetching.ts lets the upload library speak through fetch, for a service worker: it has no XMLHttpRequest.
// Progress is told once for each piece, since fetch tells none.

import type { HttpRequest, HttpResponse, HttpStack } from 'tus-js-client'

export class Fetching implements HttpStack {
  createRequest(method: string, url: string): HttpRequest {
    return new Asked(method, url)
  }

  getName(): string {
    return 'fetch'
  }
}

class Asked implements HttpRequest {
  private readonly headers = new Headers()
  private readonly over = new AbortController()
  private moved: (sent: number) => void = () => undefined

  constructor(
    private readonly method: string,
    private readonly url: string,
  ) {}

  getMethod(): string {
    return this.method
  }

  getURL(): string {
    return this.url
  }

  setHeader(name: string, value: string): void {
    this.headers.set(name, value)
  }

  getHeader(name: string): string | undefined {
    return this.headers.get(name) ?? undefined
  }

  setProgressHandler(moved: (sent: number) => void): void {
    this.moved = moved
  }

  async send(body: Blob | null = null): Promise<HttpResponse> {
    const answer = await fetch(this.url, { method: this.method, headers: this.headers, body, signal: this.over.signal })
    const text = await answer.text()
    if (body) this.moved(body.size)
    return {
      getStatus: () => answer.status,
      getHeader: (name) => answer.headers.get(name) ?? undefined,
      getBody: () => text,
      getUnderlyingObject: () => answer,
    }
  }

  abort(): Promise<void> {
    this.over.abort()
    return Promise.resolve()
  }

  getUnderlyingObject(): null {
    return null
  }
}
