import { expect, it } from 'vitest'
import { apart, decades, moved, nearest, niceCeiling, stepsTo, tickText } from './axis'

it('takes round steps that reach the largest value', () => {
  expect(niceCeiling(0.00213)).toBeCloseTo(0.0025, 12)
  expect(niceCeiling(1000)).toBe(1000)
  expect(stepsTo(9.8)).toEqual([0, 2.5, 5, 7.5, 10])
  for (const most of [0.0003, 0.7, 1, 3.01, 99, 1503, 12345]) {
    const steps = stepsTo(most)
    expect(steps.at(-1)).toBeGreaterThanOrEqual(most * (1 - 1e-9))
    expect(steps.length).toBeLessThanOrEqual(6)
  }
})

it('gives ticks the decimals that tell them apart', () => {
  expect(tickText(0.00125, 0.00125)).toBe('0.00125')
  expect(tickText(2, 0.5)).toBe('2.0')
  expect(tickText(1500, 250)).toBe('1500')
  expect(tickText(0.4, 0.2)).toBe('0.4')
})

it('covers decades', () => expect(decades(0.02, 1431)).toEqual([0.01, 0.1, 1, 10, 100, 1000, 10000]))

it('drops ticks that would touch', () => {
  const ticks = [0, 5, 20, 22].map((at) => ({ at, label: String(at) }))
  expect(apart(ticks, 10).map((t) => t.at)).toEqual([0, 20])
})

it('finds the nearest point', () => {
  const places = [{ x: 0, y: 0 }, { x: 10, y: 0 }, { x: 10, y: 9 }]
  expect(nearest(places, 9, 8)).toBe(2)
  expect(nearest([], 1, 1)).toBeNull()
})

it('moves by keys and stops at the ends', () => {
  expect(moved('ArrowRight', 3, 5)).toBe(4)
  expect(moved('ArrowRight', 4, 5)).toBe(4)
  expect(moved('ArrowLeft', 0, 5)).toBe(0)
  expect(moved('Home', 3, 5)).toBe(0)
  expect(moved('End', 0, 5)).toBe(4)
  expect(moved('PageUp', 0, 50)).toBe(10)
  expect(moved('a', 0, 5)).toBeNull()
})
