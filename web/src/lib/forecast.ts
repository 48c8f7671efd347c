// A forecast of a title: from the document to what strip and table show.
import type { NumberTable } from '../charts/types'
import { text } from '../text'
import type { CauseName, ForecastMoment, PartName, TitleForecast } from './document'
import { clockText, formatNumber } from './format'

export const CAUSES: CauseName[] = ['clip', 'limiter', 'black', 'halo', 'gamut']
export const PARTS: PartName[] = [...CAUSES, 'tone']

export interface StripRow {
  cause: PartName
  /** Area from the row's base line, in a box of 1 x 1, y down. */
  path: string
  most: number
  /** Seconds at which it is largest. */
  at: number
}

/** Every cause as an area over the title; one scale for all, so that they can be compared. */
export function stripRows(course: TitleForecast['course']): { rows: StripRow[]; scale: number } {
  const scale = Math.max(1, ...PARTS.map((c) => Math.max(0, ...course.by_cause[c])))
  const total = Math.max(1, course.last - course.first)
  const rows = PARTS.map((cause) => {
    const values = course.by_cause[cause]
    const most = Math.max(0, ...values)
    const steps = values.map((v, i) => {
      const from = (i * course.frames_per_column) / total
      const to = Math.min(1, ((i + 1) * course.frames_per_column) / total)
      const y = (1 - v / scale).toFixed(4)
      return `L${from.toFixed(5)} ${y}L${to.toFixed(5)} ${y}`
    })
    return { cause, path: `M0 1${steps.join('')}L1 1Z`, most, at: course.time_s[values.indexOf(most)] ?? 0 }
  })
  return { rows, scale }
}

const percent = (share: number) => `${formatNumber(100 * share, share > 0 && share < 0.01 ? 2 : 0)}\u00a0%`

/** What it comes to, in sentences. */
export function forecastSentences(f: TitleForecast): string[] {
  const t = text.forecast
  if (f.share_of_frames_above_1 === 0) return [t.nothing]
  const led = PARTS.map((c) => ({ c, n: f.frames_led_by[c] }))
    .filter((x) => x.n > 0)
    .sort((a, b) => b.n - a.n)
  const all = led.reduce((sum, x) => sum + x.n, 0)
  return [
    t.verdict(percent(f.share_of_frames_above_1), percent(f.share_of_frames_above_3), formatNumber(f.mean_delta_e_itp, 2)),
    t.led(led.map((x) => `${t.causes[x.c]} (${percent(x.n / all)})`).join(', ')),
  ]
}

export function forecastTable(moments: ForecastMoment[]): NumberTable {
  const t = text.forecast
  return {
    columns: t.columns,
    rows: moments.map((m) => [
      clockText(m.time_s),
      String(m.frame),
      formatNumber(m.delta_e_itp.value, 2),
      t.interval(formatNumber(m.delta_e_itp.lower90, 2), formatNumber(m.delta_e_itp.upper90, 2)),
      t.causes[m.cause],
    ]),
  }
}
