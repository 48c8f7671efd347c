// Free records as facts: whatever the bench holds is shown. A key that ends in a unit gives it to its number.
import type { Details } from './document'
import { formatGiven, withUnit, words } from './format'

const UNITS: Record<string, string> = { cdm2: 'cd/m\u00b2', lx: 'lx', percent: '%', nm: 'nm', s: 's', k: 'K', in: 'in', mm: 'mm' }

function valueText(value: unknown, unit: string): string {
  if (typeof value === 'number') return withUnit(formatGiven(value), unit)
  if (typeof value === 'string') return value
  if (Array.isArray(value) && value.every((v) => typeof v !== 'object')) return value.map((v) => valueText(v, unit)).join(', ')
  return JSON.stringify(value)
}

function factOf(key: string, value: unknown): [string, string] {
  const [, stem = key, suffix = ''] = key.match(/^(.+)_([a-z0-9]+)$/) ?? []
  const unit = typeof value === 'number' ? UNITS[suffix] : undefined
  const name = words(unit === undefined ? key : stem).replace(/^./, (c) => c.toUpperCase())
  return [name, valueText(value, unit ?? '')]
}

export function detailFacts(details: Details): [string, string][] {
  return Object.entries(details)
    .filter(([, value]) => value !== null && value !== '')
    .map(([key, value]) => factOf(key, value))
}
