// What the charts draw. Plain data with units in the names; no chart knows where it comes from.
import type { Reference, Uv } from '../lib/colour'

/** 95 % interval; null: open on that side. */
export interface Interval {
  lower: number | null
  upper: number | null
}

/** One step of a greyscale. Fields that a method does not give are null. */
export interface GreyStep {
  label: string
  signal: number
  targetCdm2: number
  cdm2: number
  cdm2Interval: Interval
  deltaE: number | null
  deltaEInterval: Interval
  luminancePart: number | null
  chromaticityPart: number | null
  deltaUv: number | null
  deltaUvInterval: Interval
  aboveClip: boolean
}

export interface Limit {
  value: number
  label: string
}

export interface EotfData {
  steps: GreyStep[]
  /** Largest luminance deviation allowed, per cent; null without such a question. */
  deviationLimit: number | null
}

export interface GreyscaleData {
  steps: GreyStep[]
  mean: { value: number; interval: Interval } | null
  meanLimit: number | null
  maxLimit: number | null
  uvLimit: number | null
}

export interface TimedPoint {
  timeS: number
  cdm2: number
  uv: Uv | null
}

export interface WhiteData {
  target: Uv
  white: Uv | null
  ellipse: Uv[]
  /** Where white went while the display warmed up, in order of time. */
  drift: TimedPoint[]
  /** Largest distance allowed; null without such a question. */
  tolerance: number | null
}

export interface WindowPoint {
  percent: number
  cdm2: number
  interval: Interval
  limit: Limit | null
}

export interface SettleData {
  points: TimedPoint[]
  settle: { timeS: number; interval: Interval; tolerancePercent: number | null } | null
}

export interface GamutData {
  /** Red, green, blue of the display, in this order. */
  primaries: [Uv, Uv, Uv]
  white: Uv | null
  references: { key: Reference; label: string; coverage: string; interval: string }[]
}

/** One colour of a correction's proof: Delta E ITP from what was asked for, without and with the table. */
export interface CorrectedColour {
  name: string
  askedCdm2: number
  before: number
  after: number
}

export interface ProgrammeData {
  points: { timeS: number; maximumCdm2: number; highCdm2: number; meanCdm2: number }[]
  framesPerPoint: number
  endS: number
}

/** A table of numbers under a chart: its first column heads each row. */
export interface NumberTable {
  /** Words rather than numbers: cells start at the left. */
  worded?: boolean
  columns: string[]
  rows: string[][]
}
