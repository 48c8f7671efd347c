// From what the server says of a loan to what its page shows.
import type { Finding, Loan, OutcomeName, Plan, PlannedRun, Question, Run, RunState } from './model'
import { secondsBetween } from './time'

export const OUTCOMES: OutcomeName[] = ['meets', 'fails', 'undecided', 'answered', 'unanswered']
/** A verdict or a wanted value is there; undecided is not there yet. */
export const isAnswered = (q: Pick<Question, 'outcome'>): boolean => ['meets', 'fails', 'answered'].includes(q.outcome)

export interface Asked {
  question: Question
  finding: Finding | null
  /** Of a verdict by this plan; null: the plan does not measure it. */
  chance: number | null
  measuredOnly: boolean
  /** Of the plan, not done yet, that serves it. */
  run: PlannedRun | null
  /** Why the plan leaves it out. */
  leftOut: string
}

export function askedOf(questions: Question[], findings: Finding[], plan: Plan | null): Asked[] {
  const byId = new Map(findings.map((f) => [f.id, f]))
  const expected = new Map(plan?.questions.map((q) => [q.key, q]) ?? [])
  const left = new Map(plan?.left_out.map((l) => [l.key, l.text]) ?? [])
  return questions.map((question) => {
    const e = expected.get(question.key)
    return {
      question,
      finding: question.finding === null ? null : (byId.get(question.finding) ?? null),
      chance: e?.probability ?? null,
      measuredOnly: e?.measured_only ?? false,
      run: plan?.runs.find((r) => !r.done && r.questions.includes(question.key)) ?? null,
      leftOut: left.get(question.key) ?? '',
    }
  })
}

export interface Group {
  set: string
  rows: Asked[]
}
/** By the set they come from, in the order of their first question. */
export function groupsOf(rows: Asked[]): Group[] {
  const out = new Map<string, Asked[]>()
  for (const row of rows) out.set(row.question.set, [...(out.get(row.question.set) ?? []), row])
  return [...out].map(([set, of]) => ({ set, rows: of }))
}

export type SegmentKind = 'done' | 'open' | 'planned'
export interface Segment {
  kind: SegmentKind
  procedure: string
  /** Shares of the whole line. */
  from: number
  to: number
}
export interface TimeLine {
  segments: Segment[]
  now: number
  spanS: number
}

/** Runs done and to come on the time of the loan. What lies outside of it is cut off. */
export function timeLine(loan: Pick<Loan, 'loan' | 'now' | 'runs'>, plan: Pick<Plan, 'runs'> | null): TimeLine {
  const { starts, ends } = loan.loan
  const spanS = Math.max(1, secondsBetween(starts, ends))
  const at = (iso: string) => Math.min(1, Math.max(0, secondsBetween(starts, iso) / spanS))
  const now = at(loan.now)
  const past = loan.runs
    .filter((r): r is Run & { started: string } => r.started !== null && r.state !== 'aborted')
    .map((r): Segment => ({ kind: r.state === 'open' ? 'open' : 'done', procedure: r.procedure, from: at(r.started), to: r.ended === null ? Math.max(now, at(r.started)) : at(r.ended) }))
  let next = now
  const coming = (plan?.runs ?? [])
    .filter((r) => !r.done && !r.by_hand)
    .map((r): Segment => {
      const from = next
      next = Math.min(1, next + r.time_s / spanS)
      return { kind: 'planned', procedure: r.procedure, from, to: next }
    })
  return { segments: [...past, ...coming].filter((s) => s.to > s.from), now, spanS }
}

export type PlanState = 'done' | 'open' | 'running' | 'next' | 'planned' | 'by_hand'

export function planStates(plan: Plan, run: RunState | null): PlanState[] {
  const active = run && !['idle', 'paused'].includes(run.state) ? (run.progress?.procedure ?? null) : null
  const next = active === null ? plan.runs.findIndex((r) => !r.done && !r.by_hand) : -1
  return plan.runs.map((r, i) => {
    if (r.procedure === active) return 'running'
    if (r.done) return 'done'
    if (r.by_hand) return 'by_hand'
    if (i === next && !r.open) return 'next'
    return r.open ? 'open' : 'planned'
  })
}
