// Findings of several loans side by side, row by row. What differs, and how surely, the server says.
import type { Comparison, Finding, Pair, Question } from './model'

/** Which way is better: what the questions ask for says so. null where they do not, or do not agree. */
export type Better = 'higher' | 'lower' | null

export interface Cell {
  loan: number
  finding: Finding
  /** Against the reference; null for the reference itself and where no comparison was possible. */
  pair: Pair | null
}
export interface Row {
  key: string
  title: Finding
  better: Better
  /** All loans were asked for it. */
  asked: boolean
  cells: Cell[]
}

const sorted = (conditions: object): string => JSON.stringify(Object.entries(conditions).sort(([a], [b]) => a.localeCompare(b)))
export const keyOf = (f: Pick<Finding, 'quantity' | 'conditions'>): string => `${f.quantity}|${sorted(f.conditions)}`

export function betterOf(questions: Pick<Question, 'comparison' | 'lower' | 'upper'>[]): Better {
  const ways = new Set(
    questions.map((q) => {
      if (q.comparison === 'at_least' && q.lower !== null) return 'higher'
      if (q.comparison === 'at_most' && q.upper !== null) return 'lower'
      return null
    }),
  )
  ways.delete(null)
  return ways.size === 1 ? ([...ways][0] ?? null) : null
}

export interface Side {
  loan: number
  findings: Finding[]
  questions: Question[]
}

/** Rows that at least two of the sides have, in the order of the first side; asked ones first. */
export function rowsOf(sides: Side[], comparison: Comparison | null): Row[] {
  const maps = sides.map((s) => new Map(s.findings.map((f) => [keyOf(f), f])))
  const keys = [...new Set(sides.flatMap((s) => s.findings.map(keyOf)))]
  const rows = keys.flatMap((key): Row[] => {
    const cells = sides.flatMap((s, i): Cell[] => {
      const finding = maps[i]?.get(key)
      if (!finding) return []
      const pair = comparison?.pairs.find((p) => p.loan === s.loan && p.finding === finding.id) ?? null
      return [{ loan: s.loan, finding, pair }]
    })
    const title = cells[0]?.finding
    if (!title || cells.length < 2) return []
    const of = cells.map((c) => {
      const ids = new Set(c.finding.verdicts.map((v) => v.question))
      const side = sides.find((s) => s.loan === c.loan)
      // An open question has no verdict: it is matched by the finding that answers it.
      return side?.questions.filter((q) => ids.has(q.id) || q.finding === c.finding.id) ?? []
    })
    return [{ key, title, cells, better: betterOf(of.flat()), asked: of.every((qs) => qs.length > 0) }]
  })
  return [...rows.filter((r) => r.asked), ...rows.filter((r) => !r.asked)]
}

/** What a pair says in the end: which side is better or higher, or that no difference is shown. */
export function said(pair: Pair, better: Better): { word: 'better' | 'higher' | 'same'; loan: boolean } {
  if (pair.outcome === 'no_difference_shown') return { word: 'same', loan: false }
  if (better === null) return { word: 'higher', loan: pair.outcome === 'higher' }
  return { word: 'better', loan: pair.outcome === better }
}

/** Ends of an axis that holds every interval of a row, with some room. */
export function axisOf(findings: Pick<Finding, 'value' | 'lower95' | 'upper95'>[]): { low: number; high: number } {
  const all = findings.flatMap((f) => [f.value, f.lower95, f.upper95]).filter((v): v is number => v !== null && Number.isFinite(v))
  const [low, high] = [Math.min(...all), Math.max(...all)]
  const pad = 0.08 * (high - low || Math.abs(high) || 1)
  return { low: low - pad, high: high + pad }
}
