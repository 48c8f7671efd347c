// Corrections of a loan: what each table is, and its proof as table and chart show it.
import type { CorrectedColour } from '../charts/types'
import { text } from '../text'
import { detailFacts } from './details'
import type { Container, Correction, Encoding, Finding, ReportDocument, Transfer } from './document'
import { encodingText } from './encoding'
import { formatGiven, formatNumber, referenceText, signs, timeText } from './format'

const BEFORE = 'correction_before'
const AFTER = 'correction_after'
const GAIN = 'correction_gain'

export const provesCorrection = (f: Finding): boolean => [BEFORE, AFTER, GAIN].includes(f.quantity)

export type Gain = 'better' | 'worse' | 'undecided'

export interface Region {
  key: string
  colours: number
  verdict: Gain
  before: Finding
  after: Finding
  gain: Finding
}

export interface Proof {
  /** All colours first. */
  regions: Region[]
  /** In order of the luminance asked for. */
  colours: CorrectedColour[]
  findings: Finding[]
}

function coloursOf(gain: Finding | undefined): CorrectedColour[] {
  return (gain?.series ?? [])
    .map((row) => ({ name: String(row.name), askedCdm2: Number(row.asked_cdm2), before: Number(row.before), after: Number(row.after) }))
    .filter((c) => [c.askedCdm2, c.before, c.after].every(Number.isFinite))
    .sort((a, b) => a.askedCdm2 - b.askedCdm2)
}

/** null for a correction that was not proved. */
export function proofOf(doc: ReportDocument, correction: Correction): Proof | null {
  const findings = doc.findings.filter((f) => correction.findings.includes(f.id))
  const of = (quantity: string, region: unknown) => findings.find((f) => f.quantity === quantity && f.conditions.region === region)
  const regions = findings
    .filter((f) => f.quantity === GAIN)
    .flatMap((gain): Region[] => {
      const [before, after] = [of(BEFORE, gain.conditions.region), of(AFTER, gain.conditions.region)]
      if (!before || !after) return []
      const word = gain.parts.verdict
      const verdict = word === 'better' || word === 'worse' ? word : 'undecided'
      return [{ key: String(gain.conditions.region), colours: Number(gain.parts.colours), verdict, before, after, gain }]
    })
  return regions.length === 0 ? null : { regions, colours: coloursOf(of(GAIN, 'all')), findings }
}

/** "+1.05": signed, so that better and worse never depend on a colour. */
export const gainText = (gain: number, decimals: number): string => (gain > 0 ? `+${formatNumber(gain, decimals)}` : formatNumber(gain, decimals))

/** "pq bt2020 10 narrow signal", as src/correct writes what a table takes or gives, in words. */
export function valuesText(values: string): string {
  const [transfer = '', container = '', bits = '', range = '', scale = '', peak = '0'] = values.split(' ')
  const t = text.place
  if (!(transfer in t.transfers && container in t.containers && range in t.ranges)) return values
  const encoding: Encoding = {
    transfer: transfer as Transfer,
    container: container as Container,
    bits: Number(bits),
    range: range as Encoding['range'],
    nominal_peak_cdm2: Number(peak),
  }
  return [encodingText(encoding), text.correction.facts.scales[scale] ?? scale].join(', ')
}

/** What the table is and what it was made for; whatever else its goal holds stands at the end. */
export function correctionFacts(doc: ReportDocument, correction: Correction): [string, string][] {
  const t = text.correction.facts
  const { shape, size, entry_bits, primaries, peak_cdm2, limited, mapping, input, output, window_percent, model_terms, model_mean_delta_e_itp, ...rest } =
    correction.goal
  const given = (value: unknown) => (typeof value === 'number' ? formatGiven(Number(value.toPrecision(4))) : String(value))
  const table = [(t.shapes[String(shape)] ?? ((n: string) => `${shape}, ${n}`))(given(size))]
  if (Number(entry_bits) > 0) table.push(t.rounded(given(entry_bits)))
  const shows = [referenceText(String(primaries)), t.white(given(peak_cdm2)), limited === true ? t.limited : t.unlimited]
  const [into, out] = [valuesText(String(input)), valuesText(String(output))]
  const procedure = doc.runs.find((r) => r.id === correction.run)?.procedure ?? ''
  return [
    [t.table, table.join(', ')],
    [t.shows, shows.join(', ')],
    [t.mapping, t.mappings[String(mapping)] ?? String(mapping)],
    ...(into === out ? ([[t.both, into]] as [string, string][]) : ([[t.input, into], [t.output, out]] as [string, string][])),
    [t.from, [t.run(correction.run, procedure), t.window(given(window_percent))].join(', ')],
    [t.terms, signs(String(model_terms))],
    [t.left, typeof model_mean_delta_e_itp === 'number' ? formatNumber(model_mean_delta_e_itp, 2) : String(model_mean_delta_e_itp)],
    [t.added, timeText(correction.added)],
    [t.size, text.bytes(correction.bytes)],
    ...detailFacts(rest),
  ]
}
