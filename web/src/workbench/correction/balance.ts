// Which way a white is off and which way a control goes: in words, so that no colour has to say it.
import { uvOfXy } from '../../lib/colour'
import type { BalanceControl, BalanceLevel } from './api'

export type Way = 'up' | 'down' | 'stay'
export interface Turn {
  way: Way
  by: number
}
/** What is to be done to a control now. */
export function turnOf({ now, next }: Pick<BalanceControl, 'now' | 'next'>): Turn {
  const by = next - now
  // Settings are decimal numbers of a menu; their difference is not.
  const size = Math.abs(by) < 1e-9 ? 0 : Number(Math.abs(by).toPrecision(9))
  return { way: size === 0 ? 'stay' : by > 0 ? 'up' : 'down', by: size }
}

export type Hue = 'red' | 'green' | 'blue' | 'yellow'
export interface Lean {
  du: number
  dv: number
  /** Larger part first; one that is less than a third of the other is left out. u' runs from green-blue to red, v' from blue to yellow. */
  hues: Hue[]
}
export function leanOf(level: Pick<BalanceLevel, 'light' | 'target'>): Lean | null {
  if (!level.light) return null
  const [is, ought] = [uvOfXy(level.light.x, level.light.y), uvOfXy(level.target.x, level.target.y)]
  const [du, dv] = [is.u - ought.u, is.v - ought.v]
  const parts: { hue: Hue; size: number }[] = [
    { hue: du > 0 ? ('red' as const) : ('green' as const), size: Math.abs(du) },
    { hue: dv > 0 ? ('yellow' as const) : ('blue' as const), size: Math.abs(dv) },
  ].sort((a, b) => b.size - a.size)
  const largest = parts[0]?.size ?? 0
  return { du, dv, hues: largest < 5e-5 ? [] : parts.filter((p) => p.size > largest / 3).map((p) => p.hue) }
}

/** What an operator types who set other values than were asked for: one line each, and an empty one at the end. */
export function answersOf(controls: BalanceControl[], set: Record<string, number | null>): string[] {
  const other = controls.filter((c) => {
    const value = set[c.name]
    return value !== null && value !== undefined && Number.isFinite(value) && value !== c.next
  })
  return [...other.map((c) => `${c.name} = ${set[c.name]}`), '']
}
