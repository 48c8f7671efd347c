import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { correctionFacts, gainText, proofOf, provesCorrection, valuesText } from './correction'
import type { ReportDocument } from './document'

const path = process.env.PROVENIT_SAMPLE ?? new URL('../../../tests/report/data/sample_document.json', import.meta.url)
const sample = () => JSON.parse(readFileSync(path, 'utf8')) as ReportDocument

describe('the proof of a correction', () => {
  it('has a row for each region, all colours first, with the verdict of its gain', () => {
    const doc = sample()
    const proof = proofOf(doc, doc.corrections[0]!)!
    expect(proof.regions.map((r) => [r.key, r.verdict])).toEqual([
      ['all', 'better'],
      ['near black', 'worse'],
      ['bright', 'better'],
      ['saturated', 'undecided'],
    ])
    for (const r of proof.regions) {
      expect([r.before, r.after, r.gain].every((f) => f.conditions.region === r.key)).toBe(true)
      expect(r.before.value - r.after.value).toBeCloseTo(r.gain.value, 3)
    }
    expect(proof.findings).toHaveLength(doc.findings.filter(provesCorrection).length)
  })
  it('has every colour in order of luminance', () => {
    const doc = sample()
    const { colours, regions } = proofOf(doc, doc.corrections[0]!)!
    expect(colours).toHaveLength(regions[0]!.colours)
    colours.slice(1).forEach((c, i) => expect(c.askedCdm2).toBeGreaterThan(colours[i]!.askedCdm2))
    expect(colours.some((c) => c.after > c.before)).toBe(true)
  })
  it('is none where no finding proves it', () => {
    const doc = sample()
    expect(proofOf(doc, { ...doc.corrections[0]!, id: 2, findings: [] })).toBeNull()
  })
  it('says its sign', () => expect([1.049, -0.3, 0].map((g) => gainText(g, 2))).toEqual(['+1.05', '\u22120.30', '0.00']))
})

describe('what a correction is', () => {
  it('is said in words', () => {
    const doc = sample()
    const facts = new Map(correctionFacts(doc, doc.corrections[0]!))
    expect(facts.get('Table')).toBe('3D, 33 nodes along each axis, rounded to 12 bits')
    expect(facts.get('Made to show')).toBe('P3-D65, white 1431\u00a0cd/m\u00b2, colours beyond these primaries as far as the display can')
    expect(facts.get('What the display cannot show')).toContain('soft shoulder')
    expect(facts.get('Signal, in and out')).toBe('PQ, BT.2020, 10 bit, narrow range, numbers are E\u2032')
    expect(facts.get('Solved from')).toBe(`run ${doc.corrections[0]!.run} (display model), window of 4\u00a0%`)
    expect([...facts.values()].join()).not.toMatch(/undefined|NaN|object/)
  })
  it('keeps both ends of the signal apart, and whatever else its goal holds', () => {
    const doc = sample()
    const c = doc.corrections[0]!
    const facts = new Map(correctionFacts(doc, { ...c, goal: { ...c.goal, output: 'bt1886 p3_d65 12 full code 100', glow: 0.5 } }))
    expect(facts.get('Signal out')).toBe('BT.1886, P3-D65, 12 bit, full range, nominal peak 100 cd/m\u00b2, numbers are code over highest code')
    expect(facts.has('Signal, in and out')).toBe(false)
    expect(facts.get('Glow')).toBe('0.5')
    expect(valuesText('as it comes')).toBe('as it comes')
  })
})
