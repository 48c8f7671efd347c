// Free records as facts: whatever the bench holds is shown, nested values as JSON.
import type { Details } from './document'
import { formatGiven, words } from './format'

function valueText(value: unknown): string {
  if (typeof value === 'number') return formatGiven(value)
  if (typeof value === 'string') return value
  if (Array.isArray(value) && value.every((v) => typeof v !== 'object')) return value.map(valueText).join(', ')
  return JSON.stringify(value)
}

export function detailFacts(details: Details): [string, string][] {
  return Object.entries(details)
    .filter(([, value]) => value !== null && value !== '')
    .map(([key, value]) => [words(key).replace(/^./, (c) => c.toUpperCase()), valueText(value)])
}
