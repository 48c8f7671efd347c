import { expect, it } from 'vitest'
import type { ChartShown } from '../../lib/charts'
import { chartOf, nameOf, outcomeOf, searched, seriesTable } from './findings'
import type { Finding } from './model'

const finding = (id: number, more: Partial<Finding> = {}) =>
  ({ id, quantity: 'peak_luminance', title: 'Peak luminance', conditions: { window_percent: 10 }, method: 'window/1', verdicts: [], series: [], ...more }) as unknown as Finding

it('names a finding by its conditions', () => {
  expect(nameOf(finding(1))).toBe('Peak luminance, 10\u00a0% window')
})
it('shows the worst verdict', () => {
  expect(outcomeOf([{ verdict: 'meets' }, { verdict: 'fails' }])).toBe('fails')
  expect(outcomeOf([{ verdict: 'meets' }])).toBe('meets')
  expect(outcomeOf([])).toBeNull()
})
it('searches words in any order', () => {
  const all = [finding(1), finding(2, { title: 'Black level', conditions: {}, verdicts: [{} as never] })]
  expect(searched(all, '10 peak', false).map((f) => f.id)).toEqual([1])
  expect(searched(all, '', true).map((f) => f.id)).toEqual([2])
  expect(searched(all, 'nothing', false)).toEqual([])
})
it('finds the chart that draws it', () => {
  const charts = [
    { id: 'chart-window', title: '', findings: [{ id: 7 }], props: {} },
    { id: 'chart-greyscale', title: '', findings: [{ id: 9 }], props: {} },
    { id: 'chart-white', title: '', missing: 'not run' },
  ] as unknown as ChartShown[]
  expect(chartOf(charts, finding(7))?.id).toBe('chart-window')
  expect(chartOf(charts, finding(8, { quantity: 'greyscale_max_delta_uv' }))?.id).toBe('chart-greyscale')
  expect(chartOf(charts, finding(8))).toBeNull()
})
it('makes a table of flat series', () => {
  const table = seriesTable({ series: [{ time_s: 1, uv: [1, 2], cdm2: 0.123456789 }, { time_s: 2 }] as never })
  expect(table).toEqual({ columns: ['time s', 'cdm2'], rows: [['1', '0.12346'], ['2', '']] })
  expect(seriesTable({ series: [] })).toBeNull()
})
