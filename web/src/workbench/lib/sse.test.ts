import { describe, expect, it } from 'vitest'
import { backoff, EventParser, openStream, type Link, type ServerEvent } from './sse'

describe('EventParser', () => {
  it('joins what comes in pieces', () => {
    const parser = new EventParser()
    expect(parser.push('id: 7\nevent: rea')).toEqual([])
    expect(parser.push('ding\ndata: {"a":1}\n')).toEqual([])
    expect(parser.push('\n')).toEqual([{ id: '7', type: 'reading', data: '{"a":1}' }])
  })
  it('keeps the id, not the type, for the next event', () => {
    const parser = new EventParser()
    const [first, second] = parser.push('id: 1\nevent: a\ndata: x\n\ndata: y\n\n')
    expect(first).toEqual({ id: '1', type: 'a', data: 'x' })
    expect(second).toEqual({ id: '1', type: 'message', data: 'y' })
  })
  it('joins data lines, takes CR LF, and passes comments over', () => {
    expect(new EventParser().push(': beat\r\ndata: one\r\ndata:two\r\n\r\n')).toEqual([{ id: '', type: 'message', data: 'one\ntwo' }])
  })
  it('waits for the second half of a CR LF', () => {
    const parser = new EventParser()
    expect(parser.push('data: x\r')).toEqual([])
    expect(parser.push('\n\r\n')).toHaveLength(1)
  })
})

it('backs off to ten seconds and no further', () => {
  expect(backoff(0)).toBe(250)
  expect(backoff(50)).toBe(10_000)
})

/** A server whose answers are given one after the other; each is the text of one stream, which then ends. */
function server(answers: string[]) {
  const asked: Record<string, string>[] = []
  const get = (async (_url: string, init: RequestInit) => {
    asked.push(init.headers as Record<string, string>)
    const text = answers.shift()
    if (text === undefined) return new Promise<Response>(() => {})
    return new Response(text, { status: 200 })
  }) as unknown as typeof fetch
  return { asked, get }
}

it('resumes after the last event seen', async () => {
  const { asked, get } = server(['id: 41\ndata: a\n\n', 'id: 42\ndata: b\n\n'])
  const events: ServerEvent[] = []
  const links: Link[] = []
  const stream = openStream({ url: '/events', fetch: get, onevent: (e) => events.push(e), onlink: (l) => links.push(l) })
  await expect.poll(() => asked.length, { timeout: 3000 }).toBe(3)
  stream.close()
  expect(events.map((e) => e.data)).toEqual(['a', 'b'])
  expect(asked.map((h) => h['Last-Event-ID'])).toEqual([undefined, '41', '42'])
  expect(links.slice(0, 4)).toEqual(['connecting', 'live', 'lost', 'connecting'])
})

it('tries at once when it is kicked', async () => {
  const { asked, get } = server([])
  const stream = openStream({ url: '/events', fetch: get, onevent: () => {}, onlink: () => {} })
  stream.kick()
  expect(asked).toHaveLength(2)
  stream.close()
})
