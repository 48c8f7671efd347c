// From the document to what each chart draws, or the reason why there is nothing to draw.
import type {
  EotfData,
  GamutData,
  GreyscaleData,
  GreyStep,
  Interval,
  Limit,
  SettleData,
  TimedPoint,
  WhiteData,
  WindowPoint,
} from '../charts/types'
import { text } from '../text'
import { D65, REFERENCE_TRIANGLES, type Reference, type Uv } from './colour'
import { findingOf, type Finding, type Question, type ReportDocument } from './document'
import { formatFigure, formatInterval, referenceText, signs, withUnit } from './format'

/** Data with the findings it stands on, or why there is none. */
export type Drawn<T> = { data: T; findings: Finding[] } | { missing: string }

type Row = Record<string, unknown>
const number = (row: Row, key: string): number | null => (typeof row[key] === 'number' ? (row[key] as number) : null)
const needed = (row: Row, key: string): number => number(row, key) ?? NaN
const interval = (row: Row, stem: string, suffix = ''): Interval => ({
  lower: number(row, `${stem}lower95${suffix}`),
  upper: number(row, `${stem}upper95${suffix}`),
})
const intervalOf = (f: Finding): Interval => ({ lower: f.lower95, upper: f.upper95 })

function uvOf(row: Row): Uv | null {
  const u = number(row, 'u_prime')
  const v = number(row, 'v_prime')
  return u === null || v === null ? null : { u, v }
}

/** Why a quantity has no figure: its procedure was not run, not finished, or gave none. */
export function missingText(doc: ReportDocument, quantity: string): string {
  const known = doc.quantities[quantity]
  const title = signs(known?.title ?? quantity)
  const run = doc.runs.find((r) => r.procedure === known?.procedure)
  if (!run) return text.missing.notRun(title, known?.procedure ?? '')
  return run.state === 'finished' ? text.missing.noFinding(title) : text.missing.notFinished(title, run.procedure)
}

/** The stricter bound that a question sets for a quantity under conditions, if any. */
function limitOf(doc: ReportDocument, quantity: string, matches: (q: Question) => boolean = () => true): number | null {
  const asked = doc.questions.find((q) => q.quantity === quantity && matches(q) && q.upper !== null)
  return asked?.upper ?? null
}

function greySteps(doc: ReportDocument): { steps: GreyStep[]; finding: Finding } | null {
  const finding = findingOf(doc, 'eotf_mean_delta_e_itp')
  if (!finding || finding.series.length === 0) return null
  const all = finding.series.map((row): GreyStep => ({
    label: text.code(needed(row, 'code')),
    signal: needed(row, 'signal'),
    targetCdm2: needed(row, 'target_cdm2'),
    cdm2: needed(row, 'value_cdm2'),
    cdm2Interval: interval(row, '', '_cdm2'),
    deltaE: number(row, 'delta_e_itp'),
    deltaEInterval: interval(row, 'delta_e_itp_'),
    luminancePart: number(row, 'luminance_part'),
    chromaticityPart: number(row, 'chromaticity_part'),
    deltaUv: number(row, 'delta_uv'),
    deltaUvInterval: interval(row, 'delta_uv_'),
    aboveClip: row.above_clip === true,
  }))
  const steps = all.filter((s) => [s.signal, s.targetCdm2, s.cdm2].every(Number.isFinite))
  return steps.length === 0 ? null : { steps: steps.sort((a, b) => a.signal - b.signal), finding }
}

export function eotfData(doc: ReportDocument): Drawn<EotfData> {
  const grey = greySteps(doc)
  if (!grey) return { missing: missingText(doc, 'eotf_mean_delta_e_itp') }
  return {
    data: { steps: grey.steps, deviationLimit: limitOf(doc, 'eotf_max_luminance_deviation') },
    findings: [grey.finding],
  }
}

export function greyscaleData(doc: ReportDocument): Drawn<GreyscaleData> {
  const grey = greySteps(doc)
  if (!grey) return { missing: missingText(doc, 'eotf_mean_delta_e_itp') }
  return {
    data: {
      steps: grey.steps,
      mean: { value: grey.finding.value, interval: intervalOf(grey.finding) },
      meanLimit: limitOf(doc, 'eotf_mean_delta_e_itp'),
      maxLimit: limitOf(doc, 'eotf_max_delta_e_itp'),
      uvLimit: limitOf(doc, 'greyscale_max_delta_uv'),
    },
    findings: [grey.finding],
  }
}

const timedPoints = (finding: Finding | undefined): TimedPoint[] =>
  (finding?.series ?? [])
    .map((row) => ({ timeS: needed(row, 'time_s'), cdm2: needed(row, 'cdm2'), uv: uvOf(row) }))
    .filter((p) => Number.isFinite(p.timeS) && Number.isFinite(p.cdm2))

export function whiteData(doc: ReportDocument): Drawn<WhiteData> {
  const finding = findingOf(doc, 'white_delta_uv')
  const drift = ['drift', 'white_u_prime'].map((q) => findingOf(doc, q)).find((f) => f && f.series.length > 1)
  const row = finding?.series[0]
  const white = row ? uvOf(row) : null
  if (!finding || !white) return { missing: missingText(doc, 'white_delta_uv') }
  const ellipse = Array.isArray(row?.ellipse95) ? (row.ellipse95 as [number, number][]) : []
  const timed = timedPoints(drift).filter((p) => p.uv !== null)
  return {
    data: {
      target: D65,
      white,
      ellipse: ellipse.map(([u, v]) => ({ u, v })),
      drift: timed,
      tolerance: limitOf(doc, 'white_delta_uv'),
    },
    findings: timed.length > 0 && drift ? [finding, drift] : [finding],
  }
}

function windowLimit(doc: ReportDocument, percent: number): Limit | null {
  const asked = doc.questions.find((q) => q.quantity === 'peak_luminance' && q.conditions.window_percent === percent)
  if (asked?.lower != null) return { value: asked.lower, label: text.limitKinds[asked.mark] }
  return asked?.upper != null ? { value: asked.upper, label: text.limitKinds[asked.mark] } : null
}

export function windowData(doc: ReportDocument): Drawn<WindowPoint[]> {
  const findings = doc.findings.filter((f) => f.quantity === 'peak_luminance' && typeof f.conditions.window_percent === 'number')
  if (findings.length < 2) return { missing: missingText(doc, 'peak_luminance') }
  const points = findings.map((f): WindowPoint => {
    const percent = f.conditions.window_percent as number
    return { percent, cdm2: f.value, interval: intervalOf(f), limit: windowLimit(doc, percent) }
  })
  return { data: points.sort((a, b) => a.percent - b.percent), findings }
}

function primariesOf(finding: Finding): [Uv, Uv, Uv] | null {
  const of = (name: string) => {
    const row = finding.series.find((r) => r.primary === name)
    return row ? uvOf(row) : null
  }
  const [r, g, b] = [of('red'), of('green'), of('blue')]
  return r && g && b ? [r, g, b] : null
}

export function gamutData(doc: ReportDocument): Drawn<GamutData> {
  const findings = doc.findings.filter((f) => f.quantity === 'gamut_coverage')
  const primaries = findings.map(primariesOf).find((p) => p !== null)
  if (!primaries) return { missing: missingText(doc, 'gamut_coverage') }
  const inUv = findings.filter((f) => f.conditions.plane !== 'xy' && String(f.conditions.reference) in REFERENCE_TRIANGLES)
  const row = findingOf(doc, 'white_delta_uv')?.series[0] ?? findings[0]?.series.find((r) => r.primary === 'white')
  return {
    data: {
      primaries,
      white: row ? uvOf(row) : null,
      references: inUv.map((f) => ({
        key: f.conditions.reference as Reference,
        label: referenceText(String(f.conditions.reference)),
        coverage: withUnit(formatFigure(f), '%'),
        interval: formatInterval(f),
      })),
    },
    findings,
  }
}

export function settleData(doc: ReportDocument): Drawn<SettleData> {
  const drift = findingOf(doc, 'drift')
  const points = timedPoints(drift)
  if (!drift || points.length < 2) return { missing: missingText(doc, 'drift') }
  const settle = findingOf(doc, 'settle_time')
  const tolerance = settle?.conditions.tolerance_percent
  return {
    data: {
      points,
      settle: settle
        ? { timeS: settle.value, interval: intervalOf(settle), tolerancePercent: typeof tolerance === 'number' ? tolerance : null }
        : null,
    },
    findings: settle ? [drift, settle] : [drift],
  }
}
