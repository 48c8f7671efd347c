import { expect, it } from 'vitest'
import * as d from './describe'
import type { Display, Instrument, LoanRecord } from './model'

const display: Display = {
  id: 1,
  name: 'Tern 32',
  technology: 'LCD',
  encoding: { transfer: 'pq', container: 'bt2020', bits: 10, range: 'narrow', nominal_peak_cdm2: 10000 },
  details: { simulated: 'tern-32', claimed_peak_cdm2: 1400, firmware: '2.1' },
}
const instrument: Instrument = {
  id: 1,
  name: 'Meter A',
  kind: 'line',
  certificate: {
    luminance_expanded_relative: 0.02,
    x_expanded: 0.002,
    y_expanded: 0.003,
    coverage_factor: 2,
    zero_offset_standard_cdm2: 0.0005,
    number: 'C-1',
    issuer: 'a lab',
    date: '2026-01-01',
  },
  capabilities: { spectral: true, minimum_cdm2: 0, maximum_cdm2: 1e4, repeatability_relative: 0.001, noise_floor_cdm2: 0.0002, shot_noise: 0 },
  details: { description: 'meter.toml', address: 'localhost:9000', serial: '17' },
}

it('reads what people type', () => {
  expect(d.typedNumber(' 4,5 ')).toBe(4.5)
  expect(d.typedNumber('')).toBeNull()
  expect(d.badPositive('')).toBe(false)
  expect(d.badPositive('0')).toBe(true)
  expect(d.badPositive('four')).toBe(true)
  expect(d.badNotNegative('0')).toBe(false)
  expect(d.badNotNegative('-1')).toBe(true)
})
it('sends a display back as it was, with what the form does not show', () => {
  const { id: _, ...rest } = display
  expect(d.displayInput(d.displayForm(display), display)).toEqual(rest)
})
it('drops what was emptied', () => {
  const sent = d.displayInput({ ...d.displayForm(display), simulated: '', peak: '' }, display)
  expect(sent.details).toEqual({ firmware: '2.1' })
})
it('sends an instrument back as it was', () => {
  const { id: _, capabilities: __, ...rest } = instrument
  expect(d.instrumentInput(d.instrumentForm(instrument), instrument)).toEqual(rest)
})
it('leaves the usual values of a new instrument to the server', () => {
  expect(d.instrumentInput({ ...d.freshInstrument(), name: 'Meter', kind: 'simulated' })).toEqual({ name: 'Meter', kind: 'simulated', details: {}, spectral: false })
  expect(d.instrumentInput({ ...d.freshInstrument(), name: 'Meter', luminance: '2' }).certificate).toEqual({ luminance_expanded_relative: 0.02 })
})
it('keeps the seconds of a loan that nobody changed', () => {
  const loan: LoanRecord = { id: 1, display: 1, instrument: 2, room: 3, starts: '2026-11-25T09:30:12.345Z', ends: '2026-11-25T13:30:12.345Z', purpose: 'x', seed: 7 }
  const form = d.loanForm(loan)
  expect(d.loanInput(form, { display: 1, instrument: 2, room: 3 }, loan)).toEqual({ display: 1, instrument: 2, room: 3, starts: loan.starts, ends: loan.ends, purpose: 'x', seed: 7 })
  expect(d.loanInput({ ...form, ends: '2026-11-25T15:00' }, { display: 1, instrument: 2, room: 3 }, loan).ends).toBe('2026-11-25T15:00:00.000Z')
  expect(d.loanInput({ ...d.freshLoan(), hours: '6' }, { display: 1, instrument: 1, room: 1 })).toEqual({ display: 1, instrument: 1, room: 1, hours: 6, purpose: '' })
})
