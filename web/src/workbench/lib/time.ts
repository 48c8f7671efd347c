// Spans of time as people say them.

/** "2 h 14 min", "14 min", "40 s": two units at most. */
export function spanText(seconds: number): string {
  const s = Math.max(0, Math.round(seconds))
  if (s < 60) return `${s}\u00a0s`
  const minutes = Math.round(s / 60)
  if (minutes < 60) return s < 600 && s % 60 !== 0 ? `${Math.floor(s / 60)}\u00a0min ${s % 60}\u00a0s` : `${minutes}\u00a0min`
  if (minutes < 48 * 60) return minutes % 60 === 0 ? `${minutes / 60}\u00a0h` : `${Math.floor(minutes / 60)}\u00a0h ${minutes % 60}\u00a0min`
  const hours = Math.round(minutes / 60)
  return hours % 24 === 0 ? `${hours / 24}\u00a0days` : `${Math.floor(hours / 24)}\u00a0days ${hours % 24}\u00a0h`
}

/** "09:05", with the day before it where `withDay` is set: "25 Nov 09:05". UTC as the bench keeps it. */
export function clockOf(iso: string, withDay = false): string {
  const clock = iso.slice(11, 16)
  if (!withDay) return clock
  return `${new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', timeZone: 'UTC' }).format(new Date(iso))} ${clock}`
}

/** "25 Nov" */
export const dayOf = (iso: string): string => clockOf(iso, true).slice(0, -6)

export const secondsBetween = (from: string, to: string): number => (Date.parse(to) - Date.parse(from)) / 1000

/** Round places for the ticks of a time line: whole minutes, hours or days, at most `count`. Seconds from the start. */
export function timeTicks(startIso: string, spanS: number, count: number): number[] {
  const steps = [300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800]
  const step = steps.find((s) => spanS / s <= count) ?? 604800
  const begin = Date.parse(startIso) / 1000
  const out: number[] = []
  for (let t = Math.ceil(begin / step) * step; t <= begin + spanS; t += step) out.push(t - begin)
  return out
}
