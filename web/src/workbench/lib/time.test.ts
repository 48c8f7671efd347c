import { expect, it } from 'vitest'
import { clockOf, dayOf, secondsBetween, spanText, timeTicks } from './time'

it('says spans in two units at most', () => {
  const said = (s: number) => spanText(s).replaceAll('\u00a0', ' ')
  expect(said(0)).toBe('0 s')
  expect(said(59.6)).toBe('1 min')
  expect(said(100)).toBe('1 min 40 s')
  expect(said(840)).toBe('14 min')
  expect(said(8040)).toBe('2 h 14 min')
  expect(said(3 * 3600)).toBe('3 h')
  expect(said(54 * 3600)).toBe('2 days 6 h')
  expect(said(72 * 3600)).toBe('3 days')
  expect(said(-5)).toBe('0 s')
})
it('reads clocks in UTC', () => {
  expect(clockOf('2026-11-25T09:05:00Z')).toBe('09:05')
  expect(clockOf('2026-11-25T09:05:00Z', true)).toBe('25 Nov 09:05')
  expect(dayOf('2026-11-25T09:05:00Z')).toBe('25 Nov')
  expect(secondsBetween('2026-11-25T09:05:00Z', '2026-11-25T09:06:30Z')).toBe(90)
})
it('puts ticks on round times', () => {
  expect(timeTicks('2026-11-25T09:10:00Z', 4 * 3600, 5)).toEqual([3000, 6600, 10200, 13800])
  expect(timeTicks('2026-11-25T00:00:00Z', 86400 * 3, 4)).toEqual([0, 86400, 172800, 259200])
})
