import { describe, expect, it } from 'vitest'
import type { TitleForecast } from './document'
import { forecastSentences, forecastTable, stripRows } from './forecast'

const none = { clip: 0, limiter: 0, black: 0, halo: 0, gamut: 0, tone: 0 }
const course: TitleForecast['course'] = {
  first: 0,
  last: 5,
  frames_per_column: 2,
  time_s: [0, 2, 4],
  delta_e_itp: [1, 5, 2],
  by_cause: { clip: [0, 4, 1], limiter: [0, 0, 0], black: [1, 1, 1], halo: [0, 0, 0], gamut: [0, 0, 0], tone: [0, 0, 0] },
}
const forecast: TitleForecast = {
  frames: 5,
  mean_delta_e_itp: 2.2,
  share_of_frames_above_1: 0.6,
  share_of_frames_above_3: 0.005,
  mean_by_cause: { ...none, clip: 1.5, black: 0.7 },
  frames_led_by: { ...none, clip: 2, black: 1 },
  course,
  moments: [],
  moments_by_cause: { clip: [], limiter: [], black: [], halo: [], gamut: [] },
}

describe('the strip of a forecast', () => {
  it('has one scale for all causes, and says where each is largest', () => {
    const { rows, scale } = stripRows(course)
    expect(scale).toBe(4)
    expect(rows.map((r) => r.most)).toEqual([4, 0, 1, 0, 0, 0])
    expect(rows[0]!.at).toBe(2)
    // The last column has one frame of the five: it ends at the right edge.
    expect(rows[0]!.path).toBe('M0 1L0.00000 1.0000L0.40000 1.0000L0.40000 0.0000L0.80000 0.0000L0.80000 0.7500L1.00000 0.7500L1 1Z')
  })
  it('never magnifies what is below 1', () => {
    const little = { ...course, by_cause: { ...course.by_cause, clip: [0, 0.2, 0], black: [0, 0, 0] } }
    expect(stripRows(little).scale).toBe(1)
  })
})

describe('what it comes to', () => {
  it('names the causes, the largest first', () => {
    const [verdict, led] = forecastSentences(forecast)
    expect(verdict).toContain('60')
    expect(verdict).toContain('0.50')
    expect(led!.indexOf('peak')).toBeLessThan(led!.indexOf('shadows'))
    expect(led).toContain('67')
  })
  it('says so where nothing is lost', () => {
    expect(forecastSentences({ ...forecast, share_of_frames_above_1: 0 })).toHaveLength(1)
  })
})

describe('its moments', () => {
  it('carry their intervals', () => {
    const table = forecastTable([{ frame: 12, time_s: 0.5, delta_e_itp: { value: 3.214, lower90: 2.9, upper90: 3.5 }, cause: 'halo', by_cause: none }])
    expect(table.rows[0]!.slice(1, 4)).toEqual(['12', '3.21', '2.90 to 3.50'])
  })
})
