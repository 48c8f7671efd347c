// The strip beside a verdict: where interval, value and limits stand between 0 and 1.
import type { Figure, Question } from './document'

export interface Strip {
  value: number
  lower: number
  upper: number
  lowerOpen: boolean
  upperOpen: boolean
  limits: number[]
  /** Stretches outside the limits. */
  outside: [number, number][]
}

/** null for a question without a limit. */
export function stripOf(question: Pick<Question, 'lower' | 'upper'>, figure: Figure): Strip | null {
  const limits = [question.lower, question.upper].filter((v) => v !== null)
  if (limits.length === 0) return null
  const shown = [figure.value, figure.lower95, figure.upper95, ...limits].filter((v) => v !== null)
  const low = Math.min(...shown)
  const high = Math.max(...shown)
  const pad = 0.22 * (high - low || Math.abs(high) || 1)
  const at = (v: number) => (v - low + pad) / (high - low + 2 * pad)
  const outside: [number, number][] = []
  if (question.lower !== null) outside.push([0, at(question.lower)])
  if (question.upper !== null) outside.push([at(question.upper), 1])
  return {
    value: at(figure.value),
    lower: figure.lower95 === null ? 0 : at(figure.lower95),
    upper: figure.upper95 === null ? 1 : at(figure.upper95),
    lowerOpen: figure.lower95 === null,
    upperOpen: figure.upper95 === null,
    limits: limits.map(at),
    outside,
  }
}
