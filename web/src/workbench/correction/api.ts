// What the server says of corrections and of the white balance, src/server/openapi.json.
import { BASE, get, send } from '../lib/api'
import type { Problem, RunState } from '../lib/model'

export interface DisplayModel {
  run: number
  readings: number
  minutes: number
  terms: string
  held_out_mean_delta_e_itp: number
  held_out_p95_delta_e_itp: number
  largest_drift_percent: number
  peak_d65_cdm2: number
  black_cdm2: [number, number, number]
  primaries: { x: number; y: number }[]
  residuals: { reading: string; delta_e_itp: number; held_out_delta_e_itp: number; noise_delta_e_itp: number }[]
  limiter: { area_percent: number; share: number; standard_uncertainty: number }[] | null
}
export interface Kind {
  id: string
  title: string
  tables: string[]
  sizes_1d: number[]
  sizes_3d: number[]
  entry_bits: number
  files: string[]
}
export interface Table {
  correction: number
  run: number
  name: string
  added: string
  bytes: number
  goal: Record<string, unknown>
  sha256: string
}
export interface Correction {
  cautions: string[]
  model: DisplayModel | null
  problem: Problem | null
  corrections: Table[]
  proof: { correction: number } | null
  kinds: Kind[]
}
export interface Solved {
  correction: number
  folder: string
  name: string
  peak_cdm2: number
  colours: number
  model_mean_delta_e_itp: number
  model_p95_delta_e_itp: number
  model_max_delta_e_itp: number
  mapped: number
}

export interface BalanceFigure {
  value: number
  lower95: number
  upper95: number
}
export type LevelVerdict = 'within' | 'undecided' | 'out'
export interface BalanceControl {
  name: string
  lowest: number
  highest: number
  step: number
  was: number
  now: number
  next: number
  acts: boolean | null
}
export interface BalanceLevel {
  name: string
  target: { x: number; y: number; cdm2: number | null }
  readings: number
  light: { x: number; y: number; cdm2: number } | null
  figures: {
    delta_uv: BalanceFigure
    luminance_relative: BalanceFigure | null
    delta_e_itp: BalanceFigure | null
    ratio: number
    verdict: LevelVerdict
  } | null
}
export interface Standing {
  run: number
  state: 'open' | 'finished' | 'aborted'
  controls: BalanceControl[]
  levels: BalanceLevel[]
  tolerance: { delta_uv: number; luminance_relative: number; delta_e_itp: number | null }
  visits: number
  readings: number
  finished: boolean
  move: string
  new_visit: boolean
  level: number
  why: string
  verdict: LevelVerdict | null
  reasons: { limit: string; name: string; text: string }[]
}
export interface Balance {
  cautions: string[]
  standing: Standing | null
}

export const correctionApi = {
  all: (loan: number) => get<Correction>(`loans/${loan}/correction`),
  file: (loan: number, correction: number) => `${BASE}/loans/${loan}/corrections/${correction}/file`,
  read: (loan: number, body: object) => send<RunState>('POST', `loans/${loan}/correction/read`, body),
  solve: (loan: number, body: object) => send<Solved>('POST', `loans/${loan}/correction/solve`, body),
  prove: (loan: number, body: object) => send<RunState>('POST', `loans/${loan}/correction/prove`, body),
  balance: (loan: number) => get<Balance>(`loans/${loan}/balance`),
  startBalance: (loan: number, body: object) => send<RunState>('POST', `loans/${loan}/balance`, body),
}
