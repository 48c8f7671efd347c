// The report's document as src/report writes it (schema provenit-report/1, docs/report.md).

export type OutcomeName = 'meets' | 'fails' | 'undecided' | 'answered' | 'unanswered'
export type Comparison = 'at_least' | 'at_most' | 'within' | 'equal_set'
export type Mark = 'seen' | 'second_hand' | 'calculated' | 'common_practice' | 'claim' | 'from_memory' | 'unset'
export type Transfer = 'pq' | 'hlg' | 'bt1886'
export type Container = 'bt709' | 'p3_d65' | 'bt2020'
/** Free JSON of a record: what only people read. */
export type Details = Record<string, unknown>
export type Conditions = Record<string, string | number | boolean>

export interface Encoding {
  transfer: Transfer
  container: Container
  bits: number
  range: 'narrow' | 'full'
  nominal_peak_cdm2: number
}

export interface Question {
  id: number
  key: string
  set: string
  text: string
  quantity: string
  conditions: Conditions
  comparison: Comparison
  lower: number | null
  upper: number | null
  unit: string
  clause: string
  source: string
  mark: Mark
  weight: number
  outcome: OutcomeName
  finding: number | null
  margin: number | null
  decides: string
  explanation: string
  missing: 'not_run' | 'not_finished' | 'no_finding' | null
}

/** A figure with its 95 % interval; null: open on that side. */
export interface Figure {
  value: number
  lower95: number | null
  upper95: number | null
  unit: string
}

export interface Finding extends Figure {
  id: number
  quantity: string
  title: string
  conditions: Conditions
  standard_uncertainty: number | null
  interval_method: string
  dominant: string
  method: string
  method_version: number
  sources: string[]
  parts: Details
  series: Record<string, unknown>[]
  reading_count: number
  readings: [number, number][]
  /** Ids of the files it was read from. */
  attachments: number[]
  computed: string | null
  software: string
}

export interface Run {
  id: number
  procedure: string
  procedure_version: number
  parameters: Details
  state: 'open' | 'finished' | 'aborted'
  started: string | null
  ended: string | null
  origin: string
  reading_count: number
  events: { at: string | null; kind: string; text: string }[]
}

/** A file that the loan keeps: a light sensor's trace, a captured frame, a camera's clip. */
export interface Attachment {
  id: number
  name: string
  kind: 'trace' | 'still' | 'clip'
  recording: string
  title: string
  step: string
  added: string | null
  sha256: string
  bytes: number
  run: number | null
  conditions: Details
  findings: number[]
}

/** A table solved for the loan's display; its file stays in the bench. */
export interface Correction {
  id: number
  name: string
  /** Whose readings it was solved from. */
  run: number
  goal: Details
  added: string | null
  sha256: string
  bytes: number
  /** Those that prove it. */
  findings: number[]
}

export interface Quantity {
  title: string
  unit: string
  procedure: string
  conditions: string
  meaning: string
}

export type MomentTest = 'limiter' | 'zones' | 'near_black' | 'beyond_p3' | 'highlights' | 'flashes' | 'changes'
export interface LightAt {
  cdm2: number
  frame: number
  time_s: number
}
/** A surveyed programme. */
export interface Title {
  title: string
  codec: string
  format: string
  frames: number
  complete: boolean
  notes: string[]
  troubles: string[]
  figures: Record<'maxcll' | 'maxcll_robust' | 'maxfall_active' | 'maxfall_full' | 'mean_luminance_full', LightAt>
  declared: { name: string; declared: string; measured: string; agrees: boolean; explanation: string }[]
  course: { frames_per_column: number; time_s: number[]; max_cdm2: number[]; high_cdm2: number[]; mean_cdm2: number[] }
  scenes: number
  flash_cautions: number
  highlight_peak_cdm2: number
  moments: { test: MomentTest; quantity: string; value: number; frame: number; time_s: number; scene: number; max_cdm2: number; mean_cdm2: number }[]
  /** Where the loan's readings make a forecast. */
  forecast?: TitleForecast
}

export type CauseName = 'clip' | 'limiter' | 'black' | 'halo' | 'gamut'
/** tone: what is left beside the causes. */
export type PartName = CauseName | 'tone'
export interface ForecastFigure {
  value: number
  lower90: number
  upper90: number
}
export interface ForecastMoment {
  frame: number
  time_s: number
  delta_e_itp: ForecastFigure
  cause: PartName
  by_cause: Record<PartName, number>
  /** In a report that was given the film: data addresses of three pictures. */
  pictures?: Record<'intended' | 'shown' | 'difference', string>
}
/** What one will not see of a title on the display. */
export interface TitleForecast {
  frames: number
  mean_delta_e_itp: number
  share_of_frames_above_1: number
  share_of_frames_above_3: number
  mean_by_cause: Record<PartName, number>
  frames_led_by: Record<PartName, number>
  course: { first: number; last: number; frames_per_column: number; time_s: number[]; delta_e_itp: number[]; by_cause: Record<PartName, number[]> }
  moments: ForecastMoment[]
  moments_by_cause: Record<CauseName, ForecastMoment[]>
  /** In a report only. */
  assumptions?: string[]
  /** With pictures: Delta E ITP that part the greys of a difference, and the greys (sRGB, 0 to 1). */
  difference_steps?: number[]
  difference_greys?: number[]
}

export interface ReportDocument {
  schema: 'provenit-report/1'
  written: string | null
  software: string
  invented: boolean
  title: string
  evaluator: string
  display: { name: string; technology: string; encoding: Encoding; details: Details }
  instrument: {
    name: string
    kind: string
    certificate: {
      luminance_expanded_relative: number
      x_expanded: number
      y_expanded: number
      coverage_factor: number
      zero_offset_standard_cdm2: number
      number: string
      issuer: string
      date: string
    }
    capabilities: {
      spectral: boolean
      minimum_cdm2: number
      maximum_cdm2: number
      repeatability_relative: number
      noise_floor_cdm2: number
      /** In the square root of cd/m2 times second; 0: not stated. */
      shot_noise: number
    }
    details: Details
  }
  room: { name: string; surround_cdm2: number | null; screen_illuminance_lx: number | null; details: Details } | null
  loan: { starts: string | null; ends: string | null; purpose: string; seed: number }
  summary: Record<OutcomeName, number>
  questions: Question[]
  findings: Finding[]
  runs: Run[]
  attachments: Attachment[]
  corrections: Correction[]
  titles: Title[]
  hashes: { name: string; sha256: string }[]
  quantities: Record<string, Quantity>
  readings: { columns: string[]; rows: (string | number | null)[][] }
  /** Sections and charts that the evaluator left out of this report, by their ids; see without.ts. */
  without?: string[]
}

/** The finding of this quantity under these conditions; a finding may state more. */
export function findingOf(doc: ReportDocument, quantity: string, conditions: Conditions = {}): Finding | undefined {
  return doc.findings.find(
    (f) => f.quantity === quantity && Object.entries(conditions).every(([key, value]) => f.conditions[key] === value),
  )
}
