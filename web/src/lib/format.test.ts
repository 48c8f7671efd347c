import { describe, expect, it } from 'vitest'
import { conditionsText, decimalsOf, formatFigure, formatGiven, formatInterval, formatNumber, periodText, rangesText, signs, unitText } from './format'

const figure = (value: number, lower95: number | null, upper95: number | null) => ({ value, lower95, upper95, unit: '1' })

describe('formatNumber', () => {
  it('keeps decimals', () => {
    expect(formatNumber(0.00148, 5)).toBe('0.00148')
    expect(formatNumber(2.2, 2)).toBe('2.20')
  })
  it('groups from five digits on, with a narrow space', () => {
    expect(formatNumber(1431, 0)).toBe('1431')
    expect(formatNumber(1020000, 0)).toBe('1\u202f020\u202f000')
    expect(formatNumber(12345.678, 1)).toBe('12\u202f345.7')
  })
  it('rounds to tens and more with negative decimals', () => expect(formatNumber(683000, -4)).toBe('680\u202f000'))
  it('has a true minus and no negative zero', () => {
    expect(formatNumber(-0.5, 1)).toBe('\u22120.5')
    expect(formatNumber(-0.0001, 2)).toBe('0.00')
  })
})

describe('digits of a figure', () => {
  it('shows two significant digits of the half width', () => {
    expect(decimalsOf(29.6)).toBe(0)
    expect(decimalsOf(0.7)).toBe(2)
    expect(decimalsOf(0.0996)).toBe(2)
    expect(decimalsOf(118000)).toBe(-4)
  })
  it('gives value and interval the same digits', () => {
    const f = figure(1431.27, 1401.2, 1461.4)
    expect(formatFigure(f)).toBe('1431')
    expect(formatInterval(f)).toBe('1401 to 1461')
  })
  it('says when a side is open', () => {
    expect(formatInterval(figure(683000, 512000, null))).toBe('at least 510\u202f000')
    expect(formatInterval(figure(0.001, null, 0.003))).toBe('at most 0.0030')
    expect(formatInterval(figure(1, null, null))).toBe('not bounded')
  })
  it('prints a count as a count', () => {
    expect(formatFigure(figure(40, 40, 40))).toBe('40')
    expect(formatInterval(figure(40, 40, 40))).toBe('40')
    expect(formatFigure(figure(40, 38, 42))).toBe('40')
    expect(formatInterval(figure(40, 38, 42))).toBe('38 to 42')
    expect(formatInterval(figure(40, 38.5, 42))).toBe('38.5 to 42.0')
  })
  it('still shows a figure without any width', () => expect(formatFigure(figure(1400, 1400, 1400))).toBe('1400'))
})

it('prints a limit with the digits it was given', () => {
  expect(formatGiven(0.005)).toBe('0.005')
  expect(formatGiven(1400)).toBe('1400')
  expect(formatGiven(0.1 + 0.2)).toBe('0.3')
  expect(formatGiven(6504.5)).toBe('6504.5')
})

it('names conditions in words', () => {
  expect(conditionsText({ window_percent: 10 })).toBe('10\u00a0% window')
  expect(conditionsText({ plane: "u'v'", reference: 'p3_d65' })).toBe('u\u2032v\u2032, P3-D65')
  expect(conditionsText({ columns: 5, rows: 7 })).toBe('5 \u00d7 7 squares')
  expect(conditionsText({ angle_deg: 30, direction: 'right' })).toBe('30\u00b0 right')
  expect(conditionsText({ direction: 'across' })).toBe('across')
  expect(conditionsText({ distance_percent: 4, window_percent: 4 })).toBe('4\u00a0% of the width away, 4\u00a0% window')
  expect(conditionsText({ level_cdm2: 100 })).toBe('at 100\u00a0cd/m\u00b2')
  expect(conditionsText({ reference: 'bt2020', space: 'ictcp' })).toBe('BT.2020, ICtCp')
  expect(conditionsText({ local_dimming: 'as_found' })).toBe('local dimming as found')
  expect(conditionsText({ observer: 'cie2015_2deg' })).toBe('CIE 2015, 2\u00b0')
  expect(conditionsText({ new_key: 3 })).toBe('new key 3')
})

it('names units', () => {
  expect(unitText('1')).toBe('')
  expect(unitText('cd/m2')).toBe('cd/m\u00b2')
  expect(unitText('%/h')).toBe('%/h')
  expect(unitText('1', 'sequential_contrast')).toBe(': 1')
})

it('sets signs without touching apostrophes', () => {
  expect(signs("Primary, Delta u'v' from the container's")).toBe("Primary, \u0394u\u2032v\u2032 from the container's")
  expect(signs("White point u'")).toBe('White point u\u2032')
})

it('writes ranges of readings', () => expect(rangesText([[1, 3], [7, 7]])).toBe('1\u20133, 7'))

it('says a period by its day or its days', () => {
  expect(periodText('2026-11-25T09:00:00Z', '2026-11-25T13:00:00Z')).toBe('25 November 2026, 09:00 to 13:00 UTC')
  expect(periodText('2026-11-25T09:00:00Z', '2026-11-26T09:30:00Z')).toBe('25 November 2026, 09:00 UTC to 26 November 2026, 09:30 UTC')
  expect(periodText(null, null)).toBe('not given to not given')
})
