// Numbers of chart points in words: digits follow each point's interval.
import { decimalsOf, figureDecimals, formatInterval, formatNumber } from '../lib/format'
import { text } from '../text'
import type { GreyStep, Interval } from './types'

const asFigure = (value: number, interval: Interval) => ({ value, lower95: interval.lower, upper95: interval.upper, unit: '' })

export const valueText = (value: number, interval: Interval): string => formatNumber(value, figureDecimals(asFigure(value, interval)))
export const intervalText = (interval: Interval, value: number): string =>
  interval.lower === null && interval.upper === null ? text.instrument.unknown : formatInterval(asFigure(value, interval))

export const cdm2Text = (step: Pick<GreyStep, 'cdm2' | 'cdm2Interval'>): string => valueText(step.cdm2, step.cdm2Interval)

export interface Deviation {
  value: number
  lower: number
  upper: number
}

/** Deviation of a step from its target, per cent; null where the target is 0. */
export function deviation(step: GreyStep): Deviation | null {
  if (!(step.targetCdm2 > 0)) return null
  const percent = (cdm2: number) => 100 * (cdm2 / step.targetCdm2 - 1)
  const value = percent(step.cdm2)
  const { lower, upper } = step.cdm2Interval
  return { value, lower: lower === null ? value : percent(lower), upper: upper === null ? value : percent(upper) }
}

/** "+3.2": signed, digits by the interval. */
export function percentText(d: Deviation): string {
  const decimals = decimalsOf((d.upper - d.lower) / 2)
  const number = formatNumber(d.value, decimals)
  return d.value > 0 ? `+${number}` : number
}
