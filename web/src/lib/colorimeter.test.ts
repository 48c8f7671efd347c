import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { matrixFacts, tablesOf } from './colorimeter'
import type { ReportDocument } from './document'

const path = process.env.PROVENIT_SAMPLE ?? new URL('../../../tests/report/data/sample_document.json', import.meta.url)
const sample = () => JSON.parse(readFileSync(path, 'utf8')) as ReportDocument

describe('a colorimeter\u2019s matrix', () => {
  const goal = { shape: 'colorimeter', method: 'four_colour', pairs: 4, reference_loan: 1, reference_instrument: 'Meter R', largest_residual_delta_uv: 0.000123 }
  it('is said of the instrument and is no table', () => {
    const doc = sample()
    const tables = tablesOf(doc)
    doc.corrections.push({ ...doc.corrections[0]!, id: 9, name: 'colorimeter.json', goal, findings: [] })
    expect(tablesOf(doc)).toEqual(tables)
    const facts = new Map(matrixFacts(doc))
    expect(facts.get('Set right by')).toBe('Meter R, four colour, from 4 pairs of readings (correction 9)')
    expect(facts.get('Largest \u0394u\u2032v\u2032 left on the pairs')).toBe('0.00012')
  })
  it('is not mentioned where there is none', () => expect(matrixFacts(sample())).toEqual([]))
})
