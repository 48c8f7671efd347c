// A colorimeter's matrix stands among the corrections of a loan, but belongs to its instrument.
import { text } from '../text'
import type { Correction, ReportDocument } from './document'
import { formatGiven, timeText, words } from './format'

const isMatrix = (c: Correction): boolean => c.goal.shape === 'colorimeter'

export const tablesOf = (doc: ReportDocument): Correction[] => doc.corrections.filter((c) => !isMatrix(c))

/** The matrix that the readings went through, the newest one; nothing without one. */
export function matrixFacts(doc: ReportDocument): [string, string][] {
  const matrix = doc.corrections.filter(isMatrix).at(-1)
  if (!matrix) return []
  const t = text.instrument
  const { method, pairs, reference_instrument, largest_residual_delta_uv } = matrix.goal
  return [
    [t.matrix, t.matrixOf(String(reference_instrument), words(String(method)), String(pairs), matrix.id)],
    [t.matrixLeft, formatGiven(Number(Number(largest_residual_delta_uv).toPrecision(2)))],
    [t.matrixMade, timeText(matrix.added)],
  ]
}
