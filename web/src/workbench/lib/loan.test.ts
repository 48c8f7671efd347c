import { expect, it } from 'vitest'
import { askedOf, groupsOf, isAnswered, planStates, timeLine } from './loan'
import type { Finding, Plan, PlannedRun, Question, Run, RunState } from './model'

const planned = (procedure: string, more: Partial<PlannedRun> = {}): PlannedRun => ({
  procedure,
  title: procedure,
  caution: '',
  by_hand: false,
  done: false,
  open: false,
  repeats: 1,
  time_s: 360,
  cumulative_s: 0,
  readings: 10,
  questions: [],
  ...more,
})
const plan = (runs: PlannedRun[], more: Partial<Plan> = {}): Plan => ({
  total_s: 0,
  available_s: 0,
  expected_weight: 0,
  total_weight: 0,
  runs,
  questions: [],
  left_out: [],
  hour_more: { expected_weight: 0, runs: [], questions: [], text: '' },
  ...more,
})
const question = (id: number, key: string, more: Partial<Question> = {}) => ({ id, key, set: 's', outcome: 'unanswered', finding: null, ...more }) as Question

it('joins each question with its finding and its place in the plan', () => {
  const [a, b, c] = askedOf(
    [question(1, 'peak', { outcome: 'meets', finding: 7 }), question(2, 'grey'), question(3, 'halo')],
    [{ id: 7 } as Finding],
    plan([planned('window', { done: true, questions: ['peak'] }), planned('greyscale', { questions: ['grey'] })], {
      questions: [{ key: 'grey', probability: 0.8, measured_only: false }],
      left_out: [{ key: 'halo', reason: 'no_time', text: 'It would need 2 h.' }],
    }),
  )
  expect([a?.finding?.id, a?.run, a?.chance]).toEqual([7, null, null])
  expect([b?.run?.procedure, b?.chance, b?.finding]).toEqual(['greyscale', 0.8, null])
  expect(c?.leftOut).toBe('It would need 2 h.')
})
it('takes undecided for not answered', () => {
  expect(['meets', 'fails', 'answered'].every((o) => isAnswered({ outcome: o } as Question))).toBe(true)
  expect(['undecided', 'unanswered'].some((o) => isAnswered({ outcome: o } as Question))).toBe(false)
})
it('groups by set in order', () => {
  const rows = askedOf([question(1, 'a', { set: 'x' }), question(2, 'b', { set: 'y' }), question(3, 'c', { set: 'x' })], [], null)
  expect(groupsOf(rows).map((g) => [g.set, g.rows.length])).toEqual([['x', 2], ['y', 1]])
})

const loan = {
  loan: { id: 1, display: 1, instrument: 1, room: 1, starts: '2026-11-25T09:00:00Z', ends: '2026-11-25T13:00:00Z', purpose: '', seed: 1 },
  now: '2026-11-25T10:00:00Z',
  runs: [
    { procedure: 'warm_up', state: 'finished', started: '2026-11-25T09:00:00Z', ended: '2026-11-25T09:30:00Z' },
    { procedure: 'greyscale', state: 'open', started: '2026-11-25T09:48:00Z', ended: null },
    { procedure: 'old', state: 'aborted', started: '2026-11-25T09:40:00Z', ended: '2026-11-25T09:41:00Z' },
  ] as Run[],
}
it('lays done and coming runs on the time of the loan', () => {
  const line = timeLine(loan, plan([planned('warm_up', { done: true }), planned('white', { time_s: 1440 }), planned('clip', { by_hand: true })]))
  expect(line.now).toBe(0.25)
  expect(line.segments.map((s) => [s.kind, s.procedure, +s.from.toFixed(3), +s.to.toFixed(3)])).toEqual([
    ['done', 'warm_up', 0, 0.125],
    ['open', 'greyscale', 0.2, 0.25],
    ['planned', 'white', 0.25, 0.35],
  ])
})
it('cuts off what lies outside the loan', () => {
  const late = { ...loan, now: '2026-11-26T09:00:00Z' }
  expect(timeLine(late, plan([planned('white')])).segments.every((s) => s.to <= 1)).toBe(true)
})

it('says where each run of the plan stands', () => {
  const p = plan([planned('a', { done: true }), planned('hand', { by_hand: true }), planned('b'), planned('c', { open: true })])
  expect(planStates(p, null)).toEqual(['done', 'by_hand', 'next', 'open'])
  const run = { state: 'running', progress: { procedure: 'c' } } as RunState
  expect(planStates(p, run)).toEqual(['done', 'by_hand', 'planned', 'running'])
})
