import { expect, it } from 'vitest'
import { keyHeight, placeKey } from './key'

const items = ['target', 'measured', 'limit'].map((label) => ({ label, mark: 'line' as const }))

it('stands in one row where there is room, and wraps where there is not', () => {
  expect(placeKey(items, 800).every((i) => i.y === 0)).toBe(true)
  const narrow = placeKey(items, 200)
  expect(narrow.at(-1)!.y).toBeGreaterThan(0)
  expect(narrow.every((i) => i.x < 200)).toBe(true)
  expect(keyHeight(items, 200)).toBeGreaterThan(keyHeight(items, 800))
  expect(keyHeight([], 200)).toBe(0)
})
