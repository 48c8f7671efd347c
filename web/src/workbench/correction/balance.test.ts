import { describe, expect, it } from 'vitest'
import { answersOf, leanOf, turnOf } from './balance'

const control = (name: string, now: number, next: number) => ({ name, lowest: 0, highest: 100, step: 1, was: 50, now, next, acts: null })
const D65 = { x: 0.3127, y: 0.329, cdm2: null }

describe('a control', () => {
  it('is turned up, down, or left', () => {
    expect(turnOf({ now: 50, next: 53 })).toEqual({ way: 'up', by: 3 })
    expect(turnOf({ now: 50.3, next: 50.1 })).toEqual({ way: 'down', by: 0.2 })
    expect(turnOf({ now: 0.1 + 0.2, next: 0.3 })).toEqual({ way: 'stay', by: 0 })
  })
  it('is answered for by name only where it was set otherwise', () => {
    const controls = [control('Red gain', 50, 53), control('Blue gain', 50, 47)]
    expect(answersOf(controls, {})).toEqual([''])
    expect(answersOf(controls, { 'Red gain': 53, 'Blue gain': 48 })).toEqual(['Blue gain = 48', ''])
    expect(answersOf(controls, { 'Red gain': NaN, 'Blue gain': null })).toEqual([''])
  })
})

describe('a white', () => {
  it('leans where its chromaticity lies', () => {
    expect(leanOf({ light: { x: 0.33, y: 0.329, cdm2: 100 }, target: D65 })!.hues[0]).toBe('red')
    expect(leanOf({ light: { x: 0.3127, y: 0.345, cdm2: 100 }, target: D65 })!.hues).toContain('yellow')
    expect(leanOf({ light: { x: 0.28, y: 0.29, cdm2: 100 }, target: D65 })!.hues[0]).toBe('blue')
    expect(leanOf({ light: { x: 0.3127, y: 0.329, cdm2: 100 }, target: D65 })!.hues).toEqual([])
    expect(leanOf({ light: null, target: D65 })).toBeNull()
  })
})
