// Numbers and times as people read them. Digits follow the interval: two significant ones of its half width.
import type { Conditions, Figure } from './document'

const NARROW_SPACE = '\u202f'
const MINUS = '\u2212'

/** "1 420.5": grouped from five digits on, a true minus sign, never "-0". */
export function formatNumber(value: number, decimals: number): string {
  const coarse = Math.pow(10, Math.max(0, -decimals))
  const rounded = decimals < 0 ? Math.round(value / coarse) * coarse : value
  const text = Math.abs(rounded).toFixed(Math.min(20, Math.max(0, decimals)))
  const [whole = '', fraction] = text.split('.')
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, NARROW_SPACE) : whole
  const sign = value < 0 && Number(text) !== 0 ? MINUS : ''
  return sign + grouped + (fraction === undefined ? '' : `.${fraction}`)
}

/** Decimals that show two significant digits of `size`; negative ones round to tens, hundreds ... */
export function decimalsOf(size: number): number {
  if (!(size > 0) || !Number.isFinite(size)) return 3
  // 0.0996 shows as 0.10: look at the digits after rounding
  const rounded = Number(size.toPrecision(2))
  return Math.min(9, 1 - Math.floor(Math.log10(rounded)))
}

function halfWidth(figure: Figure): number {
  const { value, lower95, upper95 } = figure
  if (lower95 !== null && upper95 !== null) return (upper95 - lower95) / 2
  if (lower95 !== null) return value - lower95
  return upper95 !== null ? upper95 - value : 0
}

/** Value and ends of the interval are whole numbers: printed as such, "40" and not "40.00". */
const isCount = (figure: Figure): boolean => [figure.value, figure.lower95, figure.upper95].every((v) => v !== null && Number.isInteger(v))

export function figureDecimals(figure: Figure): number {
  if (isCount(figure)) return 0
  const half = halfWidth(figure)
  return half > 0 ? decimalsOf(half) : decimalsOf(Math.abs(figure.value) / 100)
}

export const formatFigure = (figure: Figure): string => formatNumber(figure.value, figureDecimals(figure))

/** "1383 to 1442"; an open side is said in words; a count that is certain stands alone. */
export function formatInterval(figure: Figure): string {
  const d = figureDecimals(figure)
  const { lower95: lower, upper95: upper } = figure
  if (lower !== null && lower === upper && isCount(figure)) return formatNumber(lower, d)
  if (lower !== null && upper !== null) return `${formatNumber(lower, d)} to ${formatNumber(upper, d)}`
  if (lower !== null) return `at least ${formatNumber(lower, d)}`
  return upper !== null ? `at most ${formatNumber(upper, d)}` : 'not bounded'
}

/** A limit or other given number: as many digits as it has. */
export function formatGiven(value: number): string {
  const text = String(Number(value.toPrecision(10)))
  const decimals = text.includes('e') ? 9 : (text.split('.')[1]?.length ?? 0)
  return formatNumber(value, decimals)
}

const UNITS: Record<string, string> = { '1': '', 'cd/m2': 'cd/m\u00b2' }
const RATIOS = new Set(['sequential_contrast', 'checkerboard_contrast'])

/** Unit as printed after a number; contrast reads ": 1". */
export function unitText(unit: string, quantity = ''): string {
  if (RATIOS.has(quantity)) return ': 1'
  return UNITS[unit] ?? unit
}

export const withUnit = (number: string, unit: string): string => (unit === '' ? number : `${number}\u00a0${unit}`)

const PLANES: Record<string, string> = { "u'v'": 'u\u2032v\u2032', uv: 'u\u2032v\u2032', xy: 'xy' }
const REFERENCES: Record<string, string> = { bt709: 'BT.709', p3_d65: 'P3-D65', bt2020: 'BT.2020' }

export const referenceText = (key: string): string => REFERENCES[key] ?? key
export const planeText = (key: string): string => PLANES[key] ?? key

const WORDS: Record<string, string> = {
  ...REFERENCES,
  ictcp: 'ICtCp',
  cielab: 'CIELAB',
  as_found: 'as found',
  cie1931_2deg: 'CIE 1931, 2\u00b0',
  cie1964_10deg: 'CIE 1964, 10\u00b0',
  cie2015_2deg: 'CIE 2015, 2\u00b0',
  cie2015_10deg: 'CIE 2015, 10\u00b0',
}

/** One condition in words; empty where another one says it. */
function conditionText(key: string, value: string | number | boolean, all: Conditions): string {
  const word = WORDS[String(value)] ?? String(value)
  switch (key) {
    case 'window_percent':
      return `${word}\u00a0% window`
    case 'tolerance_percent':
      return `within ${word}\u00a0%`
    case 'distance_percent':
      return `${word}\u00a0% of the width away`
    case 'angle_deg':
      return `${word}\u00b0 ${all.direction ?? ''}`.trim()
    case 'minutes':
      return `after ${word}\u00a0min`
    case 'after_s':
      return `after ${word}\u00a0s`
    case 'level_cdm2':
      return `at ${word}\u00a0cd/m\u00b2`
    case 'points':
      return `${word} points`
    case 'band':
      return `${word} frequencies`
    case 'cycles_per_pixel':
      return `at ${word} cycles per pixel`
    case 'plane':
      return planeText(String(value))
    case 'columns':
      return `${word} \u00d7 ${all.rows ?? '?'} squares`
    case 'lines':
      return `${word} lines`
    case 'line_pixels':
      return `${word}\u00a0px wide`
    case 'axis':
      return `along the ${value === 'columns' ? 'width' : 'height'}`
    case 'local_dimming':
      return `local dimming ${word}`
    case 'direction':
      return 'angle_deg' in all ? '' : word
    case 'rows':
      return ''
    case 'reference':
    case 'primary':
    case 'space':
    case 'colour':
    case 'observer':
      return word
    default:
      return `${words(key)} ${word}`
  }
}

/** Conditions of a finding in words: "10 % window", "P3-D65, u\u2032v\u2032". Empty if there are none. */
export function conditionsText(conditions: Conditions): string {
  return Object.entries(conditions)
    .map(([key, value]) => conditionText(key, value, conditions))
    .filter(Boolean)
    .join(', ')
}

/** Typographic signs for what bench and catalogue write in ASCII: u\u2032v\u2032 for u'v', cd/m\u00b2 for cd/m2. */
export const signs = (title: string): string => title.replaceAll(/\b([uv])'/g, '$1\u2032').replaceAll(/v'/g, 'v\u2032').replaceAll('Delta u', '\u0394u').replaceAll('cd/m2', 'cd/m\u00b2')

/** "mid_tone" -> "mid tone": keys of free records. */
export const words = (key: string): string => key.replaceAll('_', ' ')

/** "24 November 2026" */
function dateText(iso: string | null): string {
  if (iso === null) return 'not given'
  return new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'long', year: 'numeric', timeZone: 'UTC' }).format(new Date(iso))
}

/** "24 November 2026, 09:00 UTC" */
export function timeText(iso: string | null): string {
  if (iso === null) return 'not given'
  return `${dateText(iso)}, ${iso.slice(11, 16)} UTC`
}

/** "24 November 2026, 09:00 to 13:00 UTC", or both days. */
export function periodText(from: string | null, to: string | null): string {
  if (from === null || to === null || dateText(from) !== dateText(to)) return `${timeText(from)} to ${timeText(to)}`
  return `${dateText(from)}, ${from.slice(11, 16)} to ${to.slice(11, 16)} UTC`
}

/** [[1,3],[7,7]] -> "1\u20133, 7" */
export function rangesText(ranges: [number, number][]): string {
  return ranges.map(([first, last]) => (first === last ? `${first}` : `${first}\u2013${last}`)).join(', ')
}

/** "1:02.375", "1:02:03.500": time in a programme. */
export function clockText(seconds: number): string {
  const ms = Math.round(seconds * 1000)
  const two = (n: number) => String(n).padStart(2, '0')
  const [h, m] = [Math.floor(ms / 3600000), Math.floor(ms / 60000) % 60]
  const rest = `${two(Math.floor(ms / 1000) % 60)}.${String(ms % 1000).padStart(3, '0')}`
  return h > 0 ? `${h}:${two(m)}:${rest}` : `${m}:${rest}`
}

/** Light in cd/m2 as a label: three digits or so. */
export function lightText(cdm2: number): string {
  if (cdm2 === 0) return '0'
  return formatNumber(cdm2, cdm2 >= 100 ? 0 : cdm2 >= 10 ? 1 : cdm2 >= 0.1 ? 2 : 3)
}
