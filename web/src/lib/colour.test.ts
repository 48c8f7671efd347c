import { expect, it } from 'vitest'
import { D65, distance, pqSignal, REFERENCE_TRIANGLES, uvOfXy } from './colour'
import { LOCUS, LOCUS_START_NM, LOCUS_STEP_NM } from './locus'

const area = ([a, b, c]: readonly { u: number; v: number }[]) =>
  Math.abs((b!.u - a!.u) * (c!.v - a!.v) - (c!.u - a!.u) * (b!.v - a!.v)) / 2

it('D65 of video is at u\u2032 0.197830, v\u2032 0.468320', () => {
  expect(D65.u).toBeCloseTo(0.19783, 5)
  expect(D65.v).toBeCloseTo(0.46832, 5)
})

// Areas of the triangles of Rec. ITU-R BT.709-6, SMPTE RP 431-2 (P3) and Rec. ITU-R BT.2020-2 in u', v', computed apart.
it('reference triangles have their areas', () => {
  expect(area(REFERENCE_TRIANGLES.bt709)).toBeCloseTo(0.064892, 6)
  expect(area(REFERENCE_TRIANGLES.p3_d65)).toBeCloseTo(0.08148, 6)
  expect(area(REFERENCE_TRIANGLES.bt2020)).toBeCloseTo(0.111823, 6)
})

// Rec. ITU-R BT.2020-2: its primaries are the monochromatic stimuli of 630 nm, 532 nm and 467 nm.
it('the locus passes through the BT.2020 primaries', () => {
  const at = (nm: number) => LOCUS[(nm - LOCUS_START_NM) / LOCUS_STEP_NM]!
  expect(distance(at(630), REFERENCE_TRIANGLES.bt2020[0])).toBeLessThan(0.001)
  expect(distance(at(532), REFERENCE_TRIANGLES.bt2020[1])).toBeLessThan(0.001)
  const blue = { u: (at(466).u + at(468).u) / 2, v: (at(466).v + at(468).v) / 2 }
  expect(distance(blue, REFERENCE_TRIANGLES.bt2020[2])).toBeLessThan(0.001)
})

it('the locus closes on 400 nm and 700 nm', () => {
  expect(LOCUS).toHaveLength(151)
  expect(LOCUS.at(-1)!.u).toBeCloseTo(0.6234, 3)
})

// SMPTE ST 2084:2014: 100 cd/m2 is E' 0.508078, 1000 cd/m2 0.751827, 10 000 cd/m2 1.
it('PQ spacing agrees with the standard', () => {
  expect(pqSignal(100)).toBeCloseTo(0.508078, 5)
  expect(pqSignal(1000)).toBeCloseTo(0.751827, 5)
  expect(pqSignal(10000)).toBeCloseTo(1, 5)
  expect(pqSignal(0)).toBe(0)
  expect(pqSignal(-0.001)).toBe(0)
})

it('u\u2032v\u2032 of the BT.709 red', () => {
  const { u, v } = uvOfXy(0.64, 0.33)
  expect(u).toBeCloseTo(0.4507, 4)
  expect(v).toBeCloseTo(0.5229, 4)
})
