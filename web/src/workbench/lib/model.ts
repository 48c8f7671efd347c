// What the server says, src/server/openapi.json. Questions, findings and runs are those of the report's document.
import type { Attachment, Encoding, Finding as DocumentFinding, OutcomeName, Question, ReportDocument, Run } from '../../lib/document'

export type { Attachment, Encoding, OutcomeName, Question, ReportDocument, Run }
export type Summary = Record<OutcomeName, number>
export type Details = Record<string, string | number | boolean>

export interface Problem {
  code: string
  message: string
  advice: string
  where?: { file?: string; line?: number; frame?: number; reading?: number; field?: string }
}

export interface Display {
  id: number
  name: string
  technology: string
  encoding: Encoding
  details: Details
}
export interface DisplayInput {
  name: string
  technology?: string
  encoding?: Encoding
  details?: Details
}

export type InstrumentKind = 'line' | 'manual' | 'import' | 'simulated'
export interface Certificate {
  luminance_expanded_relative: number
  x_expanded: number
  y_expanded: number
  coverage_factor: number
  zero_offset_standard_cdm2: number
  number: string
  issuer: string
  date: string
}
export interface Instrument {
  id: number
  name: string
  kind: InstrumentKind
  certificate: Certificate
  capabilities: ReportDocument['instrument']['capabilities']
  details: Details
}
export interface InstrumentInput {
  name: string
  kind: InstrumentKind
  certificate?: Partial<Certificate>
  spectral?: boolean
  details?: Details
}

export interface Room {
  id: number
  name: string
  surround_cdm2: number | null
  screen_illuminance_lx: number | null
  details: Details
}
export type RoomInput = Partial<Omit<Room, 'id' | 'name'>> & { name: string }

export interface LoanRecord {
  id: number
  display: number
  instrument: number
  room: number
  starts: string
  ends: string
  purpose: string
  seed: number
}
export interface LoanInput {
  display: number
  instrument: number
  room: number
  starts?: string
  ends?: string
  hours?: number
  purpose?: string
  seed?: number
}

export interface LoanSummary {
  id: number
  display: string
  instrument: string
  room: string
  starts: string
  ends: string
  purpose: string
  simulated: boolean
  summary: Summary
  runs: { open: number; finished: number; aborted: number }
  readings: number
}

export interface Bench {
  /** false: there is none yet; everything else is empty. */
  exists: boolean
  name: string
  title: string
  evaluator: string
  created: string | null
  displays: Display[]
  instruments: Instrument[]
  rooms: Room[]
  loans: LoanSummary[]
  readings: number
  surveys: number
  /** The loan whose readings this server takes now. */
  running: number | null
}

export interface Named {
  kind: 'display' | 'instrument' | 'room' | 'loan'
  id: number
  name: string
  replaced: boolean
}

export interface ProcedureChoice {
  id: string
  title: string
  caution: string
  needs_spectrum: boolean
  by_hand: boolean
  steps: string[]
}
export interface Choices {
  transfers: Encoding['transfer'][]
  containers: Encoding['container'][]
  ranges: Encoding['range'][]
  bits: number[]
  instrument_kinds: InstrumentKind[]
  simulated_displays: string[]
  procedures: ProcedureChoice[]
}

export interface RequirementSet {
  id: string
  title: string
  source: string
  note: string
  invented: boolean
  questions: number
}
export type SetQuestion = Omit<Question, 'id' | 'outcome' | 'finding' | 'margin' | 'decides' | 'explanation' | 'missing'>
export type RequirementSetDetail = Omit<RequirementSet, 'questions'> & { questions: SetQuestion[] }

export interface PlannedRun {
  procedure: string
  title: string
  caution: string
  by_hand: boolean
  done: boolean
  open: boolean
  repeats: number
  time_s: number
  cumulative_s: number
  readings: number
  /** Keys of the questions it serves. */
  questions: string[]
}
export interface Plan {
  total_s: number
  available_s: number
  expected_weight: number
  total_weight: number
  runs: PlannedRun[]
  questions: { key: string; probability: number; measured_only: boolean }[]
  left_out: { key: string; reason: string; text: string }[]
  hour_more: { expected_weight: number; runs: string[]; questions: string[]; text: string }
}

export interface Progress {
  loan: number
  procedure: string
  title: string
  index: number
  count: number
  phase: 'starting' | 'resting' | 'settling' | 'reading' | 'stored'
  step: string
  why: string
  signal: string
  done: number
  /** 0: nobody can say. */
  expected_total: number
  left_s: number
}
export interface Prompt {
  loan: number
  number: number
  text: string
}
export interface RunState {
  loan: number
  state: 'idle' | 'running' | 'pausing' | 'paused' | 'skipping' | 'stopping'
  can_resume: boolean
  elsewhere: boolean
  progress: Progress | null
  prompt: Prompt | null
  screen: string | null
  finished: boolean
  runs: { procedure: string; run: number; ending: string; readings: number; taken: number; spent_s: number; resumed: boolean }[]
  skipped: string[]
  to_record: string[]
  problem: Problem | null
}
export interface RunRequest {
  action: 'start' | 'pause' | 'resume' | 'skip' | 'stop'
  cautions_read?: boolean
  hours?: number
  procedures?: string[]
  again?: boolean
  screen?: 'none' | 'page'
  evaluate?: boolean
}

export interface Loan {
  id: number
  loan: LoanRecord
  display: Display
  instrument: Instrument
  room: Room
  now: string
  left_s: number
  simulated: boolean
  summary: Summary
  questions: Question[]
  runs: Run[]
  readings: number
  evaluated: string | null
  /** There is something newer than the findings. */
  stale: boolean
  run: RunState
}

export interface Reading {
  id: number
  loan: number
  run: number
  procedure: string
  sequence: number
  step: string
  repeat: number
  taken: string
  /** R', G', B' of the measured patch. */
  code: [number, number, number]
  signal: string
  X_cdm2: number
  Y_cdm2: number
  Z_cdm2: number
  integration_s: number
  saturated: boolean
  below_range: boolean
  spectrum: boolean
  context: Record<string, unknown>
}
export interface Readings {
  readings: Reading[]
  next: number | null
  total: number
}

export interface FindingVerdict {
  question: number
  set: string
  key: string
  verdict: 'meets' | 'fails' | 'undecided'
  margin: number | null
  decides: string
  text: string
}
export type Finding = DocumentFinding & { verdicts: FindingVerdict[] }
export interface Findings {
  loan: number
  evaluated: string | null
  stale: boolean
  findings: Finding[]
}
export interface FindingTrace {
  finding: Finding
  readings: Reading[]
}
export interface Evaluated {
  loan: number
  evaluated: string
  findings: number
  verdicts: number
  summary: Summary
  notes: string[]
}
export interface Published {
  folder: string
  files: string[]
  written: string
}
export interface Edits {
  edits: { number: number; at: string; text: string; undone: boolean }[]
  undo: string | null
  redo: string | null
}
export interface Link {
  url: string
  network: boolean
}

export interface Warning {
  loan: number
  run: number
  procedure: string
  at: string | null
  kind: string
  text: string
}
/** Data of each event by its name. */
export interface EventData {
  run: RunState
  progress: Progress
  prompt: Prompt
  reading: Reading
  warning: Warning
  finding: Evaluated
  changed: { what: 'bench' | 'loan' | 'findings'; loan: number | null; by: 'server' | 'elsewhere' }
  /** programme/api.ts, SurveyJob */
  survey: object
  /** signals/api.ts, Showing */
  showing: object
  /** signals/api.ts, ClipJob */
  clip: object
  gap: { reason: 'restarted' | 'too_old' | 'too_slow' }
}

export interface Pair {
  loan: number
  quantity: string
  conditions: Finding['conditions']
  reference_finding: number
  finding: number
  /** Of the loan less the reference. */
  difference: number
  lower95: number
  upper95: number
  outcome: 'higher' | 'lower' | 'no_difference_shown'
  cancelled: number
  text: string
}
export interface Comparison {
  reference: number
  pairs: Pair[]
}
