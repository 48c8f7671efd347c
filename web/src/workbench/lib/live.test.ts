import { expect, it } from 'vitest'
import type { Encoding } from '../../lib/document'
import { chromaticityOf, followed, kept, signalOfCode, swatchOf, type Recent } from './live'
import type { Reading, Warning } from './model'

const empty: Recent = { readings: [], warnings: [] }
const reading = (id: number) => ({ id }) as Reading
const pq: Encoding = { transfer: 'pq', container: 'bt2020', bits: 10, range: 'narrow', nominal_peak_cdm2: 10000 }

it('keeps the newest readings, each once', () => {
  let recent = empty
  for (let id = 1; id <= kept.readings + 10; ++id) recent = followed(recent, 'reading', reading(id))
  expect(recent.readings).toHaveLength(kept.readings)
  expect(recent.readings.at(-1)?.id).toBe(kept.readings + 10)
  expect(followed(recent, 'reading', reading(kept.readings + 10))).toBe(recent)
})
it('keeps warnings, each once', () => {
  const warning = { at: '2026-11-25T09:00:00Z', text: 'drift' } as Warning
  const once = followed(empty, 'warning', warning)
  expect(once.warnings).toEqual([warning])
  expect(followed(once, 'warning', { ...warning })).toBe(once)
})
it('reads D65 from its tristimulus values', () => {
  const c = chromaticityOf({ X_cdm2: 95.04, Y_cdm2: 100, Z_cdm2: 108.88 })
  expect(c?.x).toBeCloseTo(0.3127, 4)
  expect(c?.y).toBeCloseTo(0.329, 4)
  expect(c?.uv.u).toBeCloseTo(0.1978, 4)
})
it('gives no chromaticity to no light', () => {
  expect(chromaticityOf({ X_cdm2: 0, Y_cdm2: -0.0001, Z_cdm2: 0 })).toBeNull()
})
it('undoes narrow and full range', () => {
  expect(signalOfCode(64, pq)).toBe(0)
  expect(signalOfCode(940, pq)).toBe(1)
  expect(signalOfCode(1023, { bits: 10, range: 'full' })).toBe(1)
})
it('makes a swatch that is neutral for greys and never bright', () => {
  expect(swatchOf([64, 64, 64], pq)).toBe('rgb(0 0 0)')
  expect(swatchOf([940, 940, 940], pq)).toBe('rgb(158 158 158)')
  const [r = 0, g = 0, b = 0] = (swatchOf([700, 200, 200], pq).match(/\d+/g) ?? []).map(Number)
  expect(r).toBeGreaterThan(g)
  expect(r).toBeGreaterThan(b)
})
