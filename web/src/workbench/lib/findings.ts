// Findings as a list to search, and which chart of the report draws one.
import { conditionsText, signs } from '../../lib/format'
import type { ChartAbsent, ChartShown } from '../../lib/charts'
import type { Finding, FindingVerdict, OutcomeName } from './model'

/** What stands beside a finding in the list: its worst verdict, or none. */
export function outcomeOf(verdicts: Pick<FindingVerdict, 'verdict'>[]): OutcomeName | null {
  for (const outcome of ['fails', 'undecided', 'meets'] as const) if (verdicts.some((v) => v.verdict === outcome)) return outcome
  return null
}

export const nameOf = (f: Pick<Finding, 'title' | 'conditions'>): string => [signs(f.title), conditionsText(f.conditions)].filter(Boolean).join(', ')

/** Every word of `search` must occur in title, conditions, method or quantity. */
export function searched(findings: Finding[], search: string, onlyAsked: boolean): Finding[] {
  const wanted = search.toLowerCase().split(/\s+/).filter(Boolean)
  return findings.filter((f) => {
    if (onlyAsked && f.verdicts.length === 0) return false
    if (wanted.length === 0) return true
    const all = `${nameOf(f)} ${f.quantity.replaceAll('_', ' ')} ${f.method}`.toLowerCase()
    return wanted.every((w) => all.includes(w))
  })
}

/** The chart that draws this finding, if one does. */
export function chartOf(charts: (ChartShown | ChartAbsent)[], f: Pick<Finding, 'id' | 'quantity'>): ChartShown | null {
  const shown = charts.filter((c): c is ChartShown => 'props' in c)
  const drawn = shown.find((c) => c.findings.some((x) => x.id === f.id))
  if (drawn) return drawn
  // Figures that a chart shows by its points rather than as themselves.
  const also: Record<string, string> = {
    eotf_max_delta_e_itp: 'chart-greyscale',
    eotf_max_luminance_deviation: 'chart-eotf',
    eotf_mean_delta_e_itp: 'chart-greyscale',
    greyscale_max_delta_uv: 'chart-greyscale',
    white_u_prime: 'chart-white',
    white_v_prime: 'chart-white',
  }
  return shown.find((c) => c.id === also[f.quantity]) ?? null
}

/** Rows of a finding's series as a table; null where it has none or they are no flat rows. */
export function seriesTable(f: Pick<Finding, 'series'>): { columns: string[]; rows: string[][] } | null {
  const rows = f.series.filter((r) => typeof r === 'object' && r !== null && !Array.isArray(r))
  if (rows.length === 0) return null
  const columns = [...new Set(rows.flatMap((r) => Object.keys(r).filter((k) => typeof r[k] !== 'object' || r[k] === null)))]
  if (columns.length === 0) return null
  const cell = (v: unknown): string => {
    if (v === null || v === undefined) return ''
    if (typeof v === 'number') return Number.isInteger(v) ? String(v) : String(Number(v.toPrecision(5)))
    return String(v)
  }
  return { columns: columns.map((c) => c.replaceAll('_', ' ')), rows: rows.map((r) => columns.map((c) => cell(r[c]))) }
}
