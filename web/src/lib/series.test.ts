import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { ReportDocument } from './document'
import { basisOf, methodsOf } from './methods'
import { eotfData, gamutData, greyscaleData, missingText, settleData, whiteData, windowData } from './series'
import { settledMean } from './settle'
import { stripOf } from './strip'
import { limitText } from './limit'
import { deviation, percentText } from '../charts/words'

const path = process.env.PROVENIT_SAMPLE ?? new URL('../../../tests/report/data/sample_document.json', import.meta.url)
const sample = () => JSON.parse(readFileSync(path, 'utf8')) as ReportDocument
const without = (quantity: string): ReportDocument => {
  const doc = sample()
  doc.findings = doc.findings.filter((f) => f.quantity !== quantity)
  return doc
}
function drawn<T>(result: { data: T } | { missing: string }): T {
  if ('missing' in result) throw new Error(result.missing)
  return result.data
}

describe('data of the charts', () => {
  it('greyscale steps come in order of signal, with every interval', () => {
    const { steps } = drawn(eotfData(sample()))
    expect(steps).toHaveLength(29)
    steps.slice(1).forEach((s, i) => expect(s.signal).toBeGreaterThan(steps[i]!.signal))
    for (const s of steps) {
      expect(s.cdm2Interval.lower!).toBeLessThanOrEqual(s.cdm2)
      expect(s.cdm2Interval.upper!).toBeGreaterThanOrEqual(s.cdm2)
      expect(Math.hypot(s.luminancePart!, s.chromaticityPart!)).toBeCloseTo(s.deltaE!, 3)
    }
  })
  it('limits come from the questions', () => {
    expect(drawn(greyscaleData(sample())).meanLimit).toBe(3)
    expect(drawn(greyscaleData(sample())).maxLimit).toBeNull()
    expect(drawn(whiteData(sample())).tolerance).toBe(0.002)
  })
  it('windows are sorted by area and know what was claimed', () => {
    const points = drawn(windowData(sample()))
    expect(points.map((p) => p.percent)).toEqual([1, 2, 5, 10, 25, 50, 75, 100])
    expect(points[3]!.limit).toEqual({ value: 1400, label: 'claimed' })
    expect(points[0]!.limit).toBeNull()
  })
  it('gamut takes the references of the u\u2032v\u2032 plane only', () => {
    const { references, primaries } = drawn(gamutData(sample()))
    expect(references.map((r) => r.key)).toEqual(['p3_d65', 'bt2020'])
    expect(references[0]!.coverage).toBe('99.10\u00a0%')
    expect(primaries[0].u).toBeGreaterThan(primaries[1].u)
  })
  it('white has its ellipse and its way there', () => {
    const white = drawn(whiteData(sample()))
    expect(white.ellipse).toHaveLength(48)
    expect(white.drift).toHaveLength(91)
  })
})

describe('what is not there', () => {
  it('is said with its reason', () => {
    expect(eotfData(without('eotf_mean_delta_e_itp'))).toEqual({ missing: expect.stringContaining('gave no figure') })
    const doc = without('drift')
    doc.runs = doc.runs.filter((r) => r.procedure !== 'warm_up')
    expect(settleData(doc)).toEqual({ missing: expect.stringContaining('warm up was not run') })
    const open = without('gamut_coverage')
    open.runs.find((r) => r.procedure === 'primaries')!.state = 'aborted'
    expect(gamutData(open)).toEqual({ missing: expect.stringContaining('was not finished') })
  })
  it('a single window is no chart', () => {
    const doc = sample()
    doc.findings = doc.findings.filter((f) => f.quantity !== 'peak_luminance' || f.conditions.window_percent === 10)
    expect('missing' in windowData(doc)).toBe(true)
  })
  it('a step without its numbers is left out, not drawn at a wrong place', () => {
    const doc = sample()
    const series = doc.findings.find((f) => f.quantity === 'eotf_mean_delta_e_itp')!.series
    series[3]!.value_cdm2 = null
    expect(drawn(eotfData(doc)).steps).toHaveLength(28)
    for (const row of series) row.signal = null
    expect('missing' in eotfData(doc)).toBe(true)
  })
  it('white without drift is still drawn', () => expect(drawn(whiteData(without('drift'))).drift).toEqual([]))
  it('names quantities that it does not know', () => expect(missingText(sample(), 'sharpness')).toContain('sharpness'))
})

it('counts a reading once that serves two findings', () => {
  const [a, b] = [{ ...sample().findings[0]!, readings: [[1, 5]] as [number, number][] }, { ...sample().findings[1]!, readings: [[4, 8]] as [number, number][] }]
  expect(basisOf([a, b]).readings).toBe(8)
})

it('lists each method once', () => {
  const names = methodsOf(sample().findings).map((m) => m.name)
  expect(new Set(names).size).toBe(names.length)
  expect(names).toContain('gamut/polygons, version 1')
})

it('settled mean is that of the points after settling', () => {
  const points = [0, 1, 2, 3].map((t) => ({ timeS: t, cdm2: t < 2 ? 50 : 100 + t, uv: { u: 0.2, v: 0.4 } }))
  expect(settledMean(points, 2).cdm2).toBe(102.5)
  expect(settledMean(points, 99).cdm2).toBe(103)
  expect(settledMean(points.map((p) => ({ ...p, uv: null })), 2).uv).toBeNull()
})

describe('the strip of a verdict', () => {
  const figure = { value: 10, lower95: 9, upper95: 11, unit: '1' }
  it('keeps the order of the numbers', () => {
    const strip = stripOf({ lower: 9.5, upper: null }, figure)!
    expect(strip.lower).toBeLessThan(strip.limits[0]!)
    expect(strip.limits[0]!).toBeLessThan(strip.value)
    expect(strip.outside).toEqual([[0, strip.limits[0]]])
  })
  it('runs to the edge on an open side', () => {
    const strip = stripOf({ lower: 9.5, upper: null }, { ...figure, upper95: null })!
    expect([strip.upper, strip.upperOpen]).toEqual([1, true])
  })
  it('is none without a limit', () => expect(stripOf({ lower: null, upper: null }, figure)).toBeNull())
})

it('says limits in words', () => {
  const question = sample().questions.find((q) => q.key === 'white-cct')!
  expect(limitText(question)).toBe('6400 to 6600\u00a0K')
  expect(limitText(sample().questions.find((q) => q.key === 'contrast')!)).toBeNull()
})

it('deviation of a step, with its interval', () => {
  const step = { ...drawn(eotfData(sample())).steps[10]!, targetCdm2: 100, cdm2: 103, cdm2Interval: { lower: 101, upper: 105 } }
  const d = deviation(step)!
  expect([d.value, d.lower, d.upper].map((v) => Number(v.toFixed(6)))).toEqual([3, 1, 5])
  expect(percentText(d)).toBe('+3.0')
  expect(deviation({ ...step, targetCdm2: 0 })).toBeNull()
})
