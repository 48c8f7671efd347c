import { describe, expect, it } from 'vitest'
import type { Course } from './api'
import { clamped, covers, panned, pathOf, positionAt, roundTimes, showing, tickTime, timeAt, zoomed } from './timeline'

const course: Course = {
  first: 100,
  last: 140,
  frames: 1000,
  frames_per_column: 10,
  time_s: [4, 4.4, 4.8, 5.2],
  max_cdm2: [1, 2, 3, 4],
  high_cdm2: [1, 2, 3, 4],
  mean_cdm2: [1, 1, 1, 1],
}

describe('stretches of a title', () => {
  it('keep what is under the pointer while they are zoomed', () => {
    const before = { first: 1000, last: 3000 }
    const after = zoomed(before, 200_000, 1500, 0.5)
    expect(after.last - after.first).toBe(1000)
    expect((1500 - after.first) / 1000).toBeCloseTo(0.25, 2)
  })
  it('end at the title and at the fewest frames', () => {
    expect(zoomed({ first: 0, last: 100 }, 100, 50, 8)).toEqual({ first: 0, last: 100 })
    const close = zoomed({ first: 0, last: 100 }, 100, 90, 0.001)
    expect(close.last - close.first).toBe(24)
    expect(close.last).toBeLessThanOrEqual(100)
    expect(clamped({ first: -5, last: 3 }, 10)).toEqual({ first: 0, last: 10 })
  })
  it('move by frames and stay inside', () => {
    expect(panned({ first: 10, last: 60 }, 100, 500)).toEqual({ first: 50, last: 100 })
    expect(panned({ first: 10, last: 60 }, 100, -500)).toEqual({ first: 0, last: 50 })
  })
  it('follow a position no further than needed', () => {
    const stretch = { first: 100, last: 200 }
    expect(showing(stretch, 1000, 150)).toBe(stretch)
    expect(showing(stretch, 1000, 300).last).toBe(306)
    expect(showing(stretch, 1000, 50).first).toBe(45)
  })
})

describe('times', () => {
  it('lie between the columns, both ways', () => {
    expect(timeAt(course, 105)).toBeCloseTo(4.2)
    expect(timeAt(course, 139)).toBeCloseTo(5.56)
    for (const position of [100, 111, 127.5, 139]) expect(positionAt(course, timeAt(course, position))).toBeCloseTo(position, 6)
  })
  it('are round at the ticks', () => {
    expect(roundTimes(0, 5400, 8)).toEqual({ step: 900, times: [0, 900, 1800, 2700, 3600, 4500, 5400] })
    expect(roundTimes(4, 5.2, 8).step).toBe(0.2)
    expect(tickTime(3725, 5)).toBe('1:02:05')
    expect(tickTime(65.2, 0.2)).toBe('1:05.2')
    expect(tickTime(59.96, 0.2)).toBe('1:00.0')
  })
})

describe('paths', () => {
  it('hold only the columns of the stretch and their neighbours', () => {
    const path = pathOf(course, course.max_cdm2, { first: 110, last: 120 }, (p) => p, (v) => v)
    expect(path).toBe('M104.5 1.0L114.5 2.0L124.5 3.0')
  })
  it('know whether a course covers a stretch', () => {
    expect(covers(course, { first: 100, last: 140 })).toBe(true)
    expect(covers(course, { first: 99, last: 120 })).toBe(false)
    expect(covers(null, { first: 0, last: 1 })).toBe(false)
  })
})
