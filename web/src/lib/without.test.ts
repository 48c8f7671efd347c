import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { ReportDocument } from './document'
import { chosenParts, leftOut, leftOutTitles } from './without'

const sample = process.env.PROVENIT_SAMPLE ?? new URL('../../../tests/report/data/sample_document.json', import.meta.url).pathname
const doc = JSON.parse(readFileSync(sample, 'utf8')) as ReportDocument

describe('what a report may leave out', () => {
  it('offers sections that are there, and each chart', () => {
    const keys = chosenParts(doc).map((p) => p.key)
    expect(keys).toContain('methods')
    expect(keys.filter((k) => k.startsWith('chart-')).length).toBeGreaterThan(3)
    expect(keys).not.toContain('questions')
    expect(keys).not.toContain('provenance')
    expect(chosenParts({ ...doc, titles: [] }).map((p) => p.key)).not.toContain('programmes')
  })
  it('names what was left out, a chart only if the charts are there', () => {
    const some = { ...doc, without: ['place', 'chart-white'] }
    expect(leftOut(some, 'place')).toBe(true)
    expect(leftOut(doc, 'place')).toBe(false)
    expect(leftOutTitles(some)).toEqual(['White point and its drift', 'Display, room and loan'])
    expect(leftOutTitles({ ...doc, without: ['charts', 'chart-white'] })).toEqual(['Charts'])
  })
})
