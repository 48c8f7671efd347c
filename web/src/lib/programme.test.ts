import { expect, test } from 'vitest'
import type { Title } from './document'
import { clockText, lightText } from './format'
import { declaredTable, levelsTable, momentsTable, programmeData } from './programme'

const at = (cdm2: number) => ({ cdm2, frame: 5, time_s: 62.375 })
const title: Title = {
  title: 'shore.mp4',
  codec: 'hevc',
  format: 'PQ',
  frames: 3,
  complete: true,
  notes: [],
  troubles: [],
  figures: { maxcll: at(1003.5), maxcll_robust: at(990), maxfall_active: at(180.25), maxfall_full: at(120), mean_luminance_full: at(110) },
  declared: [{ name: 'MaxCLL', declared: '1000', measured: '1003.50 cd/m2', agrees: false, explanation: 'overshoot' }],
  course: { frames_per_column: 2, time_s: [0, 1], max_cdm2: [10, 1003.5], high_cdm2: [9, 900], mean_cdm2: [1, 120] },
  scenes: 1,
  flash_cautions: 0,
  highlight_peak_cdm2: 1000,
  moments: [{ test: 'zones', quantity: '', value: 0.123456, frame: 5, time_s: 62.375, scene: 1, max_cdm2: 800, mean_cdm2: 0.02 }],
}

test('the course becomes points in time', () => {
  const data = programmeData(title)
  expect(data.points).toHaveLength(2)
  expect(data.points[1]).toEqual({ timeS: 1, maximumCdm2: 1003.5, highCdm2: 900, meanCdm2: 120 })
  expect(data.endS).toBe(1)
})

test('tables carry every figure with its place', () => {
  expect(levelsTable(title).rows[0]).toEqual(['MaxCLL', '1003.50', '1:02.375', '5'])
  expect(levelsTable(title).rows).toHaveLength(5)
  expect(declaredTable(title).rows[0]).toEqual(['MaxCLL', '1000', '1003.50 cd/m2', 'no', 'overshoot'])
  expect(momentsTable(title).rows[0]?.slice(1)).toEqual(['1:02.375', '5', '1', '0.123', '800', '0.020'])
})

test('times and light read as people say them', () => {
  expect(clockText(0)).toBe('0:00.000')
  expect(clockText(3723.5)).toBe('1:02:03.500')
  expect(lightText(0)).toBe('0')
  expect(lightText(1234.5)).toBe('1235')
  expect(lightText(12.34)).toBe('12.3')
  expect(lightText(0.5)).toBe('0.50')
})
