import { expect, it } from 'vitest'
import { placed, wrapped } from './plate'

const measure = (text: string) => text.length

it('wraps at words', () => {
  expect(wrapped('one two three four', 9, measure)).toEqual(['one two', 'three', 'four'])
  expect(wrapped('', 9, measure)).toEqual([])
  expect(wrapped('unbreakable word', 5, measure)).toEqual(['unbreakable', 'word'])
})
it('fits the drawing into its room', () => {
  expect(placed({ width: 100, height: 50 }, { x: 10, y: 20, width: 400, height: 100 })).toEqual({ x: 110, y: 20, width: 200, height: 100 })
  expect(placed({ width: 100, height: 50 }, { x: 10, y: 20, width: 400, height: null })).toEqual({ x: 10, y: 20, width: 400, height: 200 })
})
