import { expect, it } from 'vitest'
import { axisOf, betterOf, keyOf, rowsOf, said, type Side } from './compare'
import type { Finding, Pair, Question } from './model'

const finding = (id: number, quantity: string, conditions = {}, questions: number[] = []) =>
  ({ id, quantity, conditions, value: id, lower95: null, upper95: null, verdicts: questions.map((question) => ({ question })) }) as unknown as Finding
const question = (id: number, comparison: Question['comparison'], more: Partial<Question> = {}) =>
  ({ id, comparison, lower: comparison === 'at_least' ? 1 : null, upper: comparison === 'at_most' ? 1 : null, finding: null, ...more }) as Question
const pair = (loan: number, of: number, outcome: Pair['outcome']) => ({ loan, finding: of, outcome }) as Pair

it('matches conditions in any order', () => {
  expect(keyOf(finding(1, 'a', { x: 1, y: 2 }))).toBe(keyOf(finding(2, 'a', { y: 2, x: 1 })))
})
it('takes the better way from what was asked', () => {
  expect(betterOf([question(1, 'at_least')])).toBe('higher')
  expect(betterOf([question(1, 'at_most'), question(2, 'at_most')])).toBe('lower')
  expect(betterOf([question(1, 'at_most'), question(2, 'at_least')])).toBeNull()
  expect(betterOf([question(1, 'within')])).toBeNull()
})
it('lines up what at least two have, asked ones first', () => {
  const sides: Side[] = [
    { loan: 1, findings: [finding(1, 'drift'), finding(2, 'peak', {}, [10]), finding(3, 'only_here')], questions: [question(10, 'at_least')] },
    { loan: 2, findings: [finding(4, 'peak'), finding(5, 'drift')], questions: [question(20, 'at_least', { finding: 4 })] },
  ]
  const rows = rowsOf(sides, { reference: 1, pairs: [pair(2, 4, 'lower')] })
  expect(rows.map((r) => [r.title.quantity, r.asked, r.better])).toEqual([['peak', true, 'higher'], ['drift', false, null]])
  expect(rows[0]?.cells.map((c) => c.pair?.outcome ?? null)).toEqual([null, 'lower'])
})
it('says who is better, or only higher, or that nothing is shown', () => {
  expect(said(pair(2, 1, 'higher'), 'higher')).toEqual({ word: 'better', loan: true })
  expect(said(pair(2, 1, 'higher'), 'lower')).toEqual({ word: 'better', loan: false })
  expect(said(pair(2, 1, 'lower'), null)).toEqual({ word: 'higher', loan: false })
  expect(said(pair(2, 1, 'no_difference_shown'), 'lower').word).toBe('same')
})
it('holds every interval on the axis', () => {
  expect(axisOf([{ value: 10, lower95: 8, upper95: 12 }, { value: 20, lower95: 18, upper95: null }])).toEqual({ low: 8 - 0.96, high: 20.96 })
})
