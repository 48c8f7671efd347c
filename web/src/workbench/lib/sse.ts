// Server-sent events read from a fetch stream: unlike EventSource it shows heartbeats, so that a page woken from sleep can
// tell a dead stream from a quiet one, and it can resume after the last event seen. Format: WHATWG HTML, 9.2.

export interface ServerEvent {
  id: string
  type: string
  data: string
}

/** Takes text as it comes and gives the events that are whole. A comment counts as a sign of life, not as an event. */
export class EventParser {
  private rest = ''
  private id = ''
  private type = ''
  private data: string[] = []

  push(chunk: string): ServerEvent[] {
    const out: ServerEvent[] = []
    const lines = (this.rest + chunk).split(/\r\n|\n|\r(?!$)/)
    this.rest = lines.pop() ?? ''
    for (const line of lines) {
      const event = this.line(line)
      if (event) out.push(event)
    }
    return out
  }

  private line(line: string): ServerEvent | null {
    if (line === '') return this.dispatch()
    if (line.startsWith(':')) return null
    const colon = line.indexOf(':')
    const field = colon < 0 ? line : line.slice(0, colon)
    const value = colon < 0 ? '' : line.slice(colon + 1).replace(/^ /, '')
    if (field === 'id' && !value.includes('\0')) this.id = value
    else if (field === 'event') this.type = value
    else if (field === 'data') this.data.push(value)
    return null
  }

  private dispatch(): ServerEvent | null {
    const event = { id: this.id, type: this.type || 'message', data: this.data.join('\n') }
    const has = this.data.length > 0
    this.type = ''
    this.data = []
    return has ? event : null
  }
}

export type Link = 'connecting' | 'live' | 'lost'

export interface StreamOptions {
  url: string
  onevent: (event: ServerEvent) => void
  onlink: (link: Link) => void
  /** Silence after which the stream counts as dead, ms. */
  silence?: number
  fetch?: typeof fetch
}

/** Wait before the n-th try in a row, ms. */
export const backoff = (tries: number): number => Math.min(10_000, 250 * 2 ** Math.min(tries, 10))

/** Keeps a stream open until `close`: resumes after the last event seen, tries again after a loss, and at once when the
 *  machine wakes, the page is shown again or the network is back. */
export function openStream({ url, onevent, onlink, silence = 40_000, fetch: get = fetch }: StreamOptions): { close(): void; kick(): void } {
  let last = ''
  let closed = false
  let tries = 0
  let heard = 0
  let current: AbortController | null = null
  let timer: ReturnType<typeof setTimeout> | undefined

  async function connect() {
    if (closed) return
    const abort = (current = new AbortController())
    onlink('connecting')
    try {
      const headers: Record<string, string> = { Accept: 'text/event-stream' }
      if (last !== '') headers['Last-Event-ID'] = last
      const response = await get(url, { headers, signal: abort.signal, cache: 'no-store' })
      if (!response.ok || !response.body) throw new Error(String(response.status))
      tries = 0
      heard = Date.now()
      onlink('live')
      const parser = new EventParser()
      const reader = response.body.pipeThrough(new TextDecoderStream()).getReader()
      for (;;) {
        const { done, value } = await reader.read()
        if (done) break
        heard = Date.now()
        for (const event of parser.push(value)) {
          if (event.id !== '') last = event.id
          onevent(event)
        }
      }
    } catch {
      // A loss is told by the link below, and tried again.
    }
    if (closed || abort !== current) return
    onlink('lost')
    timer = setTimeout(connect, backoff(tries++))
  }

  function kick() {
    if (closed) return
    clearTimeout(timer)
    const old = current
    current = null
    old?.abort()
    void connect()
  }
  const watch = setInterval(() => {
    if (current && heard > 0 && Date.now() - heard > silence) {
      heard = 0
      kick()
    }
  }, 5000)

  void connect()
  return {
    kick,
    close() {
      closed = true
      clearTimeout(timer)
      clearInterval(watch)
      current?.abort()
    },
  }
}
