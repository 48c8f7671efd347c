import { beforeAll, expect, it, vi } from 'vitest'

let parsePlace: typeof import('./router.svelte').parsePlace
let href: typeof import('./router.svelte').href
beforeAll(async () => {
  vi.stubGlobal('location', { hash: '' })
  vi.stubGlobal('addEventListener', () => {})
  ;({ parsePlace, href } = await import('./router.svelte'))
})

it('reads a place', () => {
  expect(parsePlace('#/findings/17?loan=2')).toEqual({ page: 'findings', rest: ['17'], query: { loan: '2' } })
  expect(parsePlace('')).toEqual({ page: '', rest: [], query: {} })
})
it('writes one that reads back', () => {
  const to = href('findings', { loan: 2, compare: undefined, search: 'a b&c' }, 'x/y')
  expect(parsePlace(to)).toEqual({ page: 'findings', rest: ['x/y'], query: { loan: '2', search: 'a b&c' } })
})
