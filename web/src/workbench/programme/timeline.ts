// Stretches of a title and how a time line moves through it. Positions count the frames that were measured, from 0.
import type { Course } from './api'

/** Positions [first, last). */
export interface Stretch {
  first: number
  last: number
}
/** No zoom shows fewer frames than this. */
export const FEWEST = 24

export function clamped(stretch: Stretch, total: number): Stretch {
  const length = Math.min(total, Math.max(Math.min(FEWEST, total), Math.round(stretch.last - stretch.first)))
  const first = Math.min(Math.max(0, Math.round(stretch.first)), total - length)
  return { first, last: first + length }
}

/** `factor` below 1 shows less; what is at `at` stays where it is. */
export function zoomed(stretch: Stretch, total: number, at: number, factor: number): Stretch {
  const length = stretch.last - stretch.first
  const wanted = Math.min(total, Math.max(Math.min(FEWEST, total), length * factor))
  const share = length > 0 ? (at - stretch.first) / length : 0
  const first = at - share * wanted
  return clamped({ first, last: first + wanted }, total)
}

export function panned(stretch: Stretch, total: number, by: number): Stretch {
  return clamped({ first: stretch.first + by, last: stretch.last + by }, total)
}

/** The stretch moved as little as shows the position, with a little of what is around it. */
export function showing(stretch: Stretch, total: number, position: number): Stretch {
  const length = stretch.last - stretch.first
  const room = Math.floor(length * 0.05)
  if (position < stretch.first) return panned(stretch, total, position - room - stretch.first)
  if (position >= stretch.last) return panned(stretch, total, position + 1 + room - stretch.last)
  return stretch
}

export const covers = (course: Course | null, stretch: Stretch): course is Course =>
  course !== null && course.first <= stretch.first && course.last >= stretch.last

/** Seconds at a position, between the columns' own times. */
export function timeAt(course: Course, position: number): number {
  const { time_s, first, frames_per_column: width } = course
  if (time_s.length === 0) return 0
  const at = (position - first) / width
  const i = Math.min(time_s.length - 1, Math.max(0, Math.floor(at)))
  const here = time_s[i]!
  const next = time_s[i + 1] ?? here + (here - (time_s[i - 1] ?? here))
  return here + (next - here) * (at - i)
}

/** Position shown at a time; the inverse of timeAt. */
export function positionAt(course: Course, seconds: number): number {
  const { time_s, first, frames_per_column: width } = course
  let [low, high] = [0, time_s.length - 1]
  while (low < high) {
    const middle = Math.ceil((low + high) / 2)
    if (time_s[middle]! <= seconds) low = middle
    else high = middle - 1
  }
  const here = time_s[low] ?? 0
  const next = time_s[low + 1] ?? here + (here - (time_s[low - 1] ?? here))
  return first + width * (low + (next > here ? (seconds - here) / (next - here) : 0))
}

const STEPS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600]
/** Round times from `from` to `to`, at most `count`, with the step between them. */
export function roundTimes(from: number, to: number, count: number): { step: number; times: number[] } {
  const step = STEPS.find((s) => (to - from) / s <= count) ?? 7200
  const times: number[] = []
  for (let i = Math.max(0, Math.ceil(from / step - 1e-9)); i * step <= to + 1e-9; ++i) times.push(i * step)
  return { step, times }
}

/** "12.5 s" below a minute, "1:05" below an hour, "1:02:05" above; tenths where the step has them. */
export function tickTime(seconds: number, step: number): string {
  const tenths = step < 1
  const s = Math.round(seconds * 10) / 10
  const two = (n: number) => String(n).padStart(2, '0')
  const rest = tenths ? (s % 60).toFixed(1).padStart(4, '0') : two(Math.round(s % 60))
  const [h, m] = [Math.floor(s / 3600), Math.floor(s / 60) % 60]
  return h > 0 ? `${h}:${two(m)}:${rest}` : `${m}:${rest}`
}

/** One path through a row of the course: `x` of a position, `y` of a light. Columns outside the stretch but its neighbours
 *  are left out. */
export function pathOf(course: Course, row: number[], stretch: Stretch, x: (position: number) => number, y: (cdm2: number) => number): string {
  const width = course.frames_per_column
  const from = Math.max(0, Math.floor((stretch.first - course.first) / width) - 1)
  const to = Math.min(row.length, Math.ceil((stretch.last - course.first) / width) + 1)
  let path = ''
  for (let i = from; i < to; ++i) {
    const middle = course.first + (i + 0.5) * width - 0.5
    path += `${path === '' ? 'M' : 'L'}${x(middle).toFixed(1)} ${y(row[i]!).toFixed(1)}`
  }
  return path
}
