// Ranges and ticks that charts share.
import { formatNumber } from './format'

/** Smallest of 1, 2, 2.5, 5 x 10^n that is not below `value`. */
export function niceCeiling(value: number): number {
  if (!(value > 0)) return 1
  const power = Math.pow(10, Math.floor(Math.log10(value)))
  for (const step of [1, 2, 2.5, 5]) if (value <= step * power * (1 + 1e-9)) return step * power
  return 10 * power
}

/** 0, step, 2 step ... up to or just past `most`, with about `count` steps of a round size. */
export function stepsTo(most: number, count = 4): number[] {
  const step = niceCeiling(most / count)
  return Array.from({ length: Math.ceil(most / step - 1e-9) + 1 }, (_, i) => i * step)
}

/** Decades within [low, high], both ends taken to whole powers of ten. */
export function decades(low: number, high: number): number[] {
  const out: number[] = []
  for (let e = Math.floor(Math.log10(low)); e <= Math.ceil(Math.log10(high)); ++e) out.push(Math.pow(10, e))
  return out
}

/** Tick text with as many decimals as the step needs. */
export function tickText(value: number, step: number): string {
  const whole = (decimals: number) => Math.abs(step * Math.pow(10, decimals) - Math.round(step * Math.pow(10, decimals))) < 1e-6
  let decimals = 0
  while (decimals < 9 && !whole(decimals)) ++decimals
  return formatNumber(value, decimals)
}

/** Index of the place nearest to (x, y), or null if there is none. */
export function nearest(places: readonly { x: number; y: number }[], x: number, y: number): number | null {
  let best: number | null = null
  let least = Infinity
  places.forEach((p, i) => {
    const d = Math.hypot(p.x - x, p.y - y)
    if (d < least) [best, least] = [i, d]
  })
  return best
}

/** Where the keyboard takes a chart's cursor among `count` points; null leaves it alone. */
export function moved(key: string, at: number, count: number): number | null {
  const last = count - 1
  const to: Record<string, number> = {
    ArrowRight: at + 1,
    ArrowUp: at + 1,
    ArrowLeft: at - 1,
    ArrowDown: at - 1,
    PageUp: at + 10,
    PageDown: at - 10,
    Home: 0,
    End: last,
  }
  const next = to[key]
  return next === undefined ? null : Math.min(last, Math.max(0, next))
}

export interface Tick {
  /** Place in the drawing, px. */
  at: number
  label: string
}

/** Ticks of an axis: `places` the values, `step` what tells them apart. */
export function ticksOf(scale: (value: number) => number, places: number[], step?: number): Tick[] {
  const between = step ?? Math.abs((places[1] ?? 1) - (places[0] ?? 0))
  return places.map((value) => ({ at: scale(value), label: tickText(value, between) }))
}

/** Drops ticks that would touch the one before; the first of `ticks` always stays. */
export function apart(ticks: Tick[], gap: number): Tick[] {
  const kept: Tick[] = []
  for (const tick of ticks) if (kept.every((k) => Math.abs(k.at - tick.at) >= gap)) kept.push(tick)
  return kept
}

/** Decade ticks read 0.001, 0.01 ... 1000 each with its own digits. */
export function decadeTicks(scale: (value: number) => number, places: number[]): Tick[] {
  return places.map((value) => ({ at: scale(value), label: value === 0 ? '0' : tickText(value, value) }))
}
