// What the server says of test pictures, src/server/openapi.json.
import { BASE, get, query, send } from '../lib/api'
import type { Problem } from '../lib/model'

export interface Parameter {
  name: string
  default: number
  default_unit: 'number' | 'reference_white' | 'nominal_peak'
  least: number
  most: number
  whole: boolean
  meaning: string
}
export interface PictureInfo {
  key: string
  title: string
  purpose: string
  source: string
  caution: string
  parameters: Parameter[]
}
export interface PictureCautions {
  cautions: string[]
  needs_confirmation: boolean
  frames: number
  values: Record<string, number>
}
export interface Showing {
  state: 'idle' | 'waiting' | 'showing' | 'time_over' | 'failed'
  picture: string | null
  title: string
  address: string | null
  frame: number
  frames: number
  text: string
  longest_s: number
  cautions: string[]
  problem: Problem | null
}
/** The clip that is being written, or was last. */
export interface ClipJob {
  state: 'idle' | 'running' | 'cancelling' | 'done' | 'cancelled' | 'failed'
  folder: string | null
  file: string | null
  format: string
  done: number
  total: number
  bytes: number
  problem: Problem | null
}
/** What is said of a clip beyond its picture; empty and null: what is usual for it. */
export interface ClipChoice {
  rate: string
  hold: number | null
  quality: string
  chroma: string
}
export interface Coding {
  transfer: 'pq' | 'hlg' | 'bt1886'
  container: 'bt709' | 'p3_d65' | 'bt2020'
  range: 'narrow' | 'full'
  bits: number
  peak_cdm2: number
}

/** What was given of a picture's parameters: name=number, parted by commas. */
export const valuesText = (given: Record<string, number | null>): string =>
  Object.entries(given)
    .filter((pair): pair is [string, number] => pair[1] !== null && Number.isFinite(pair[1]))
    .map(([name, value]) => `${name}=${value}`)
    .join(',')

/** Whether a file of that name is a clip. */
export const isClip = (name: string): boolean => /\.(mp4|mov|mkv)$/.test(name)
/** The fields that were filled in. */
export const clipFields = (choice: ClipChoice): object =>
  Object.fromEntries(Object.entries(choice).filter(([, value]) => value !== null && value !== '' && !Number.isNaN(value)))

export const signalsApi = {
  all: () => get<{ pictures: PictureInfo[] }>('test-pictures').then((r) => r.pictures),
  preview: (key: string, values: string, coding: Coding, frame: number) => `${BASE}/test-pictures/preview.png${query({ key, values, ...coding, frame })}`,
  cautions: (key: string, values: string, coding: Coding) => get<PictureCautions>(`test-pictures/cautions${query({ key, values, ...coding })}`),
  write: (body: object) => send<{ folder: string; name: string; format: string; bytes: number }>('POST', 'test-pictures/file', body),
  clip: () => get<ClipJob>('clip'),
  changeClip: (body: object) => send<ClipJob>('POST', 'clip', body),
  showing: () => get<Showing>('showing'),
  show: (body: object) => send<Showing>('POST', 'showing', body),
}
