import { beforeAll, expect, it, vi } from 'vitest'

let readKept: typeof import('./settings.svelte').readKept
beforeAll(async () => {
  vi.stubGlobal('document', { documentElement: { dataset: {}, style: { setProperty: () => {} } } })
  ;({ readKept } = await import('./settings.svelte'))
})

it('starts dark, at full level, with keys', () => {
  expect(readKept(null)).toEqual({ theme: 'dark', level: 1, large: false, keys: true })
})
it('takes what was kept, within its range', () => {
  expect(readKept('{"theme":"light","level":0.07,"large":true,"keys":false}')).toEqual({ theme: 'light', level: 0.3, large: true, keys: false })
  expect(readKept('{"level":"bright"}').level).toBe(1)
})
it('is not upset by what it cannot read', () => {
  expect(readKept('{').theme).toBe('dark')
})
