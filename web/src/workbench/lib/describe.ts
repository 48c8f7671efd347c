// The form in which a loan is described, and what is sent for it. Fields are text, as a person types them.
import type { Certificate, Display, DisplayInput, Encoding, Instrument, InstrumentInput, LoanInput, Room, RoomInput, LoanRecord } from './model'

export interface DisplayForm {
  name: string
  technology: string
  simulated: string
  peak: string
  transfer: Encoding['transfer']
  container: Encoding['container']
  bits: number
  range: Encoding['range']
  nominal: string
}
export interface InstrumentForm {
  name: string
  kind: Instrument['kind']
  description: string
  address: string
  luminance: string
  chromaticity: string
  coverage: string
  number: string
  spectral: boolean
}
export interface RoomForm {
  name: string
  surround: string
  illuminance: string
}
export interface LoanForm {
  hours: string
  starts: string
  ends: string
  purpose: string
}

export const freshDisplay = (): DisplayForm => ({
  name: '',
  technology: '',
  simulated: '',
  peak: '',
  transfer: 'pq',
  container: 'bt2020',
  bits: 10,
  range: 'narrow',
  nominal: '',
})
export const freshInstrument = (): InstrumentForm => ({
  name: '',
  kind: 'line',
  description: '',
  address: '',
  luminance: '',
  chromaticity: '',
  coverage: '',
  number: '',
  spectral: false,
})
export const freshRoom = (): RoomForm => ({ name: '', surround: '', illuminance: '' })
export const freshLoan = (): LoanForm => ({ hours: '4', starts: '', ends: '', purpose: '' })

/** A number as typed, with a comma or a point; null if empty, NaN if it is none. */
export function typedNumber(text: string): number | null {
  const kept = text.trim().replace(',', '.')
  return kept === '' ? null : Number(kept)
}
export const badPositive = (text: string): boolean => {
  const n = typedNumber(text)
  return n !== null && !(n > 0 && Number.isFinite(n))
}
export const badNotNegative = (text: string): boolean => {
  const n = typedNumber(text)
  return n !== null && !(n >= 0 && Number.isFinite(n))
}

const said = (value: unknown): string => (value === null || value === undefined ? '' : String(value))

export function displayForm(d: Display): DisplayForm {
  return {
    name: d.name,
    technology: d.technology,
    simulated: said(d.details.simulated),
    peak: said(d.details.claimed_peak_cdm2),
    transfer: d.encoding.transfer,
    container: d.encoding.container,
    bits: d.encoding.bits,
    range: d.encoding.range,
    nominal: said(d.encoding.nominal_peak_cdm2),
  }
}
/** `before`: the record that is replaced; what the form does not show of it is kept. */
export function displayInput(form: DisplayForm, before?: Display): DisplayInput {
  const details = { ...before?.details }
  const put = (key: string, value: string | number | null) => {
    if (value === null || value === '') delete details[key]
    else details[key] = value
  }
  put('simulated', form.simulated)
  put('claimed_peak_cdm2', typedNumber(form.peak))
  const nominal = typedNumber(form.nominal) ?? (form.transfer === 'pq' ? 10000 : form.transfer === 'hlg' ? 1000 : 100)
  return {
    name: form.name.trim(),
    technology: form.technology.trim(),
    encoding: { transfer: form.transfer, container: form.container, bits: Number(form.bits), range: form.range, nominal_peak_cdm2: nominal },
    details,
  }
}

export function instrumentForm(i: Instrument): InstrumentForm {
  return {
    name: i.name,
    kind: i.kind,
    description: said(i.details.description),
    address: said(i.details.address),
    luminance: said(Number((100 * i.certificate.luminance_expanded_relative).toPrecision(6))),
    chromaticity: said(i.certificate.x_expanded),
    coverage: said(i.certificate.coverage_factor),
    number: i.certificate.number,
    spectral: i.capabilities.spectral,
  }
}
export function instrumentInput(form: InstrumentForm, before?: Instrument): InstrumentInput {
  const details = { ...before?.details }
  for (const key of ['description', 'address'] as const) {
    if (form.kind !== 'line' || form[key].trim() === '') delete details[key]
    else details[key] = form[key].trim()
  }
  const certificate: Partial<Certificate> = { ...before?.certificate }
  const luminance = typedNumber(form.luminance)
  const chromaticity = typedNumber(form.chromaticity)
  const coverage = typedNumber(form.coverage)
  if (luminance !== null) certificate.luminance_expanded_relative = luminance / 100
  if (chromaticity !== null) {
    // One figure in the form for both; an instrument that was described with two keeps its second.
    const y = before && before.certificate.x_expanded === chromaticity ? before.certificate.y_expanded : chromaticity
    certificate.x_expanded = chromaticity
    certificate.y_expanded = y
  }
  if (coverage !== null) certificate.coverage_factor = coverage
  if (form.number.trim() !== '') certificate.number = form.number.trim()
  const input: InstrumentInput = { name: form.name.trim(), kind: form.kind, details }
  if (Object.keys(certificate).length > 0) input.certificate = certificate
  if (form.kind !== 'line') input.spectral = form.spectral
  return input
}

export const roomForm = (r: Room): RoomForm => ({ name: r.name, surround: said(r.surround_cdm2), illuminance: said(r.screen_illuminance_lx) })
export const roomInput = (form: RoomForm, before?: Room): RoomInput => ({
  name: form.name.trim(),
  surround_cdm2: typedNumber(form.surround),
  screen_illuminance_lx: typedNumber(form.illuminance),
  details: { ...before?.details },
})

/** "2026-11-25T09:30" of a date-time field, taken as UTC. */
export const isoOf = (local: string): string => (local === '' ? '' : `${local.slice(0, 16)}:00.000Z`)
export const localOf = (iso: string): string => iso.slice(0, 16)

export const loanForm = (l: LoanRecord): LoanForm => ({ hours: '', starts: localOf(l.starts), ends: localOf(l.ends), purpose: l.purpose })
export function loanInput(form: LoanForm, ids: { display: number; instrument: number; room: number }, before?: LoanRecord): LoanInput {
  const input: LoanInput = { ...ids, purpose: form.purpose.trim() }
  if (before) {
    // What the fields show in minutes keeps its seconds where nobody changed it.
    input.starts = form.starts === localOf(before.starts) ? before.starts : isoOf(form.starts)
    input.ends = form.ends === localOf(before.ends) ? before.ends : isoOf(form.ends)
    input.seed = before.seed
  } else input.hours = typedNumber(form.hours) ?? 4
  return input
}
