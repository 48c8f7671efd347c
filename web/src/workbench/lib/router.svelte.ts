// Where the page is: "#/findings?loan=2&finding=17". The hash alone, so that the server knows one address and the way
// back works.

export const PAGES = ['loan', 'findings', 'correction', 'programme', 'signals', 'report'] as const
export type Page = (typeof PAGES)[number]

export interface Place {
  /** First part of the path; '' at the start. */
  page: string
  /** What follows it. */
  rest: string[]
  query: Record<string, string>
}

export function parsePlace(hash: string): Place {
  const [path = '', query = ''] = hash.replace(/^#\/?/, '').split('?')
  const [page = '', ...rest] = path.split('/').filter(Boolean).map(decodeURIComponent)
  return { page, rest, query: Object.fromEntries(new URLSearchParams(query)) }
}

export function href(page: string, query: Record<string, string | number | undefined> = {}, ...rest: (string | number)[]): string {
  const kept = Object.entries(query).filter((pair): pair is [string, string | number] => pair[1] !== undefined && pair[1] !== '')
  const search = new URLSearchParams(kept.map(([k, v]) => [k, String(v)])).toString()
  const path = [page, ...rest].map((part) => encodeURIComponent(part)).join('/')
  return `#/${path}${search === '' ? '' : `?${search}`}`
}

class Router {
  place = $state<Place>(parsePlace(location.hash))
  constructor() {
    addEventListener('hashchange', () => (this.place = parsePlace(location.hash)))
  }
  go(to: string) {
    location.hash = to
  }
  /** Changes the query without a new step of the way back. */
  set(query: Record<string, string | number | undefined>) {
    const all = { ...this.place.query, ...query }
    history.replaceState(null, '', href(this.place.page, all, ...this.place.rest))
    this.place = parsePlace(location.hash)
  }
}
export const router = new Router()
