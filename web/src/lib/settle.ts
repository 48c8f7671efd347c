// What a warm-up settled to.
import type { TimedPoint } from '../charts/types'
import type { Uv } from './colour'

/** Mean of the points from the settle time on; of the last quarter if that is not known or leaves too few. */
export function settledMean(points: TimedPoint[], settleS: number | null): { cdm2: number; uv: Uv | null } {
  const after = settleS === null ? [] : points.filter((p) => p.timeS >= settleS)
  const used = after.length >= 2 ? after : points.slice(-Math.max(1, Math.floor(points.length / 4)))
  const mean = (of: (p: TimedPoint) => number) => used.reduce((sum, p) => sum + of(p), 0) / used.length
  const hasUv = used.every((p) => p.uv !== null)
  return { cdm2: mean((p) => p.cdm2), uv: hasUv ? { u: mean((p) => p.uv!.u), v: mean((p) => p.uv!.v) } : null }
}
