import { expect, it } from 'vitest'
import { detailFacts } from './details'

it('gives numbers the unit that their key ends in', () => {
  expect(detailFacts({ claimed_peak_cdm2: 1400, mode: 'HDR', zones: [40, 22], empty: '', none: null })).toEqual([
    ['Claimed peak', '1400\u00a0cd/m\u00b2'],
    ['Mode', 'HDR'],
    ['Zones', '40, 22'],
  ])
  expect(detailFacts({ note_in: 'words', hours_on: 12 })).toEqual([
    ['Note in', 'words'],
    ['Hours on', '12'],
  ])
  expect(detailFacts({ nested: { a: 1 } })).toEqual([['Nested', '{"a":1}']])
})
