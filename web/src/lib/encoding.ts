// A signal's encoding in words.
import { text } from '../text'
import type { Encoding } from './document'
import { formatGiven } from './format'

export function encodingText(e: Encoding): string {
  const t = text.place
  const parts = [t.transfers[e.transfer], t.containers[e.container], t.bits(e.bits), t.ranges[e.range]]
  if (e.transfer !== 'pq') parts.push(t.peak(formatGiven(e.nominal_peak_cdm2)))
  return parts.join(', ')
}
