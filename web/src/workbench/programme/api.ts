// What the server says of programmes, src/server/openapi.json.
import type { ForecastFigure, MomentTest, TitleForecast } from '../../lib/document'
import { BASE, get, query, send } from '../lib/api'
import type { Problem, RunState } from '../lib/model'

export interface SurveyJob {
  state: 'idle' | 'running' | 'cancelling' | 'done' | 'cancelled' | 'failed'
  file: string | null
  done: number
  /** 0: nobody can say. */
  total: number
  frames_per_s: number
  left_s: number
  max_cdm2: number
  mean_cdm2: number
  survey: number | null
  problem: Problem | null
}
export interface ProgrammeFile {
  name: string
  bytes: number
  still: boolean
}
export interface SurveySummary {
  survey: number
  title: string
  frames: number
  added: string
  complete: boolean
  live: boolean
  file: string | null
}
export interface Programmes {
  /** null: the server was given none. */
  folder: string | null
  files: ProgrammeFile[]
  surveys: SurveySummary[]
  job: SurveyJob
}

export type FarmState = 'waiting' | 'running' | 'done' | 'failed' | 'lost'
export interface FarmTask {
  state: FarmState
  /** false: frames could not be had, or were damaged. */
  complete: boolean
  hash: string | null
  error: Problem | null
}
export interface FarmPart extends FarmTask {
  first: number
  /** The frame after its last. */
  last: number
  done: number
}
export interface FarmTitle {
  title: string
  frames: number
  done: number
  attempt: number
  parts: FarmPart[]
  survey: FarmTask
  forecast: FarmTask | null
}
export interface Farms {
  jobs: {
    job: { name: string; frames: number; done: number; left_s: number | null; finished: boolean; titles: FarmTitle[] } | null
    problem: Problem | null
  }[]
}

export interface AtFrame {
  cdm2: number
  frame: number
  time_s: number
}
export type LevelName = 'maxcll' | 'maxcll_robust' | 'maxfall_active' | 'maxfall_full' | 'mean_luminance_full'
export interface Survey {
  survey: number
  title: string
  added: string
  hash: string
  fingerprint: string
  codec: string
  format: string
  width: number
  height: number
  frames: number
  frame_rate_hz: number
  end_s: number
  first_frame: number
  last_frame: number
  live: boolean
  complete: boolean
  notes: string[]
  troubles: string[]
  declared_in: string
  figures: Record<LevelName, AtFrame>
  declared: { name: string; declared: string; measured: string; agrees: boolean; explanation: string }[]
}
export interface Course {
  /** Positions [first, last) that it covers. */
  first: number
  last: number
  frames: number
  frames_per_column: number
  time_s: number[]
  max_cdm2: number[]
  high_cdm2: number[]
  mean_cdm2: number[]
}
export interface Scene {
  scene: number
  first_frame: number
  last_frame: number
  from_s: number
  to_s: number
  opened_by: 'cut' | 'fade' | 'dissolve'
  maximum_cdm2: number
  full_field_largest_cdm2: number
  full_field_mean_cdm2: number
  largest: Record<MomentTest, number>
  flashing: boolean
}
export interface Scenes {
  peak_cdm2: number
  scenes: Scene[]
  flash_cautions: { first_frame: number; last_frame: number; from_s: number; to_s: number; flashes: number; area: number; change_cdm2: number }[]
}
export interface Moment {
  frame: number
  time_s: number
  scene: number
  value: number
  max_cdm2: number
  mean_cdm2: number
}
export interface Moments {
  test: MomentTest
  quantity: string
  peak_cdm2: number
  moments: Moment[]
}
export type Figures = Record<string, number>
export interface SurveyFrame {
  position: number
  frame: number
  time_s: number
  figures: Figures
}

export interface Picture {
  frame: number
  frames: number
  time_s: number
  width: number
  height: number
  format: string
  transfer: 'pq' | 'hlg' | 'bt1886' | 'srgb' | 'linear'
  matrix: 'bt601' | 'bt709' | 'bt2020_ncl' | 'rgb'
  codec: string
  damaged: boolean
  notes: string[]
  troubles: string[]
  fingerprint: string
  source_peak_cdm2: number
  figures: Figures
  false_colour: { steps_cdm2: number[]; shares: number[] }
  gamut: { beyond_bt709: number; beyond_p3: number }
}
export type ViewName = 'sdr' | 'sdr_eetf' | 'false_colour' | 'gamut' | 'excursion'
export type ScopeName = 'waveform' | 'red' | 'green' | 'blue' | 'vectorscope' | 'chromaticity'
export interface Limits {
  above_cdm2?: number
  below_cdm2?: number
  beyond: 'none' | 'bt709' | 'p3_d65'
}
export interface Histogram {
  luminance: number[]
  max_rgb: number[]
  pixels: number
}
type Three = [number, number, number]
export interface Pixel {
  x: number
  y: number
  code: Three
  signal: Three
  linear_rgb_cdm2: Three
  xyz_cdm2: Three
  luminance_cdm2: number
  max_rgb_cdm2: number
  xy: [number, number] | null
  uv_prime: [number, number] | null
  cct_kelvin: number | null
  duv: number | null
  inside_bt709: boolean
  inside_p3: boolean
}

export type SpotPart = 'probes' | 'checks' | 'eye'
export interface DisplayForecast {
  cautions: string[]
  forecast: {
    peak_cdm2: number
    zone_columns: number
    zone_rows: number
    unsure: Record<'light' | 'scale' | 'halo' | 'black' | 'limiter' | 'colour_delta_e_itp', number>
    assumptions: string[]
    missing: string[]
    eye_check: { verdict: 'holds' | 'does not hold' | 'undecided'; held: number; median_lit_error: number; median_dark_error: number; spots: { name: string }[] } | null
  } | null
  /** What to do first, where there is no forecast yet. */
  next: string | null
  problem: Problem | null
}
export type ForecastQuantity = 'mean_delta_e' | 'share_above_1' | 'share_above_3' | 'highlight_lost' | 'shadow_lost' | 'halo_cdm2' | 'halo_share' | 'dimming'
export interface FrameForecast {
  frame: number
  time_s: number
  figures: Record<ForecastQuantity, ForecastFigure>
  steps_delta_e_itp: number[]
  greys: number[]
}

/** One frame of one file. */
export interface Shown {
  file: string
  frame: number
}
const of = (shown: Shown) => ({ file: shown.file, frame: shown.frame })

export const programmeApi = {
  all: () => get<Programmes>('programmes'),
  survey: (id: number) => get<Survey>(`surveys/${id}`),
  course: (id: number, first: number, last: number, columns: number) => get<Course>(`surveys/${id}/course${query({ first, last, columns })}`),
  scenes: (id: number, peak_cdm2: number) => get<Scenes>(`surveys/${id}/scenes${query({ peak_cdm2 })}`),
  moments: (id: number, test: MomentTest, peak_cdm2: number, count = 12) => get<Moments>(`surveys/${id}/moments${query({ test, count, peak_cdm2 })}`),
  frame: (id: number, frame: number, signal?: AbortSignal) => get<SurveyFrame>(`surveys/${id}/frame${query({ frame })}`, signal),
  csv: (id: number) => `${BASE}/surveys/${id}/frames.csv`,

  farm: () => get<Farms>('farm'),
  job: () => get<SurveyJob>('survey-job'),
  start: (file: string, meant: Record<string, string | number>) => send<SurveyJob>('POST', 'survey-job', { action: 'start', file, ...meant }),
  cancel: () => send<SurveyJob>('POST', 'survey-job', { action: 'cancel' }),

  picture: (shown: Shown, signal?: AbortSignal) => get<Picture>(`pictures${query(of(shown))}`, signal),
  view: (shown: Shown, view: ViewName, limits: Limits) => `${BASE}/pictures/view.png${query({ view, ...(view === 'excursion' ? limits : {}), ...of(shown) })}`,
  scope: (shown: Shown, scope: ScopeName) => `${BASE}/pictures/scope.png${query({ scope, ...of(shown) })}`,
  excursions: (shown: Shown, limits: Limits) => get<{ above: number; below: number; beyond: number }>(`pictures/excursions${query({ ...limits, ...of(shown) })}`),
  histogram: (shown: Shown) => get<Histogram>(`pictures/histogram${query(of(shown))}`),
  pixel: (shown: Shown, x: number, y: number) => get<Pixel>(`pictures/pixel${query({ x, y, ...of(shown) })}`),
  falseColour: `${BASE}/pictures/false-colour.png`,
}

export const forecastApi = {
  display: (loan: number) => get<DisplayForecast>(`loans/${loan}/forecast`),
  title: (loan: number, survey: number, columns: number) => get<TitleForecast>(`loans/${loan}/forecast/surveys/${survey}${query({ columns, moments: 10 })}`),
  frame: (loan: number, shown: Shown, signal?: AbortSignal) => get<FrameForecast>(`loans/${loan}/forecast/frame${query(of(shown))}`, signal),
  view: (loan: number, shown: Shown, view: 'shown' | 'difference') => `${BASE}/loans/${loan}/forecast/view.png${query({ view, ...of(shown) })}`,
  read: (loan: number, body: object) => send<RunState>('POST', `loans/${loan}/forecast/read`, body),
}
