// The charts of a loan, in the order in which they are shown: each with what it draws, or why it is not there. The report,
// and the workbench take them from here.
import type { Component } from 'svelte'
import EotfChart from '../charts/EotfChart.svelte'
import GamutChart from '../charts/GamutChart.svelte'
import GreyscaleChart from '../charts/GreyscaleChart.svelte'
import SettleChart from '../charts/SettleChart.svelte'
import WhiteChart from '../charts/WhiteChart.svelte'
import WindowChart from '../charts/WindowChart.svelte'
import { text } from '../text'
import type { Finding, ReportDocument } from './document'
import { formatFigure, formatInterval, planeText, referenceText } from './format'
import { basisOf } from './methods'
import { eotfData, gamutData, greyscaleData, settleData, whiteData, windowData, type Drawn } from './series'

/** Charts differ in the data they take; `one` pairs each with its own. */
type AnyChart = Component<any>

export interface ChartShown {
  id: string
  title: string
  findings: Finding[]
  component: AnyChart
  props: Record<string, unknown>
}
export interface ChartAbsent {
  id: string
  title: string
  missing: string
}

export function basisText(findings: Finding[]): string {
  const { readings, methods } = basisOf(findings)
  return text.charts.basis(text.charts.readings(readings), methods.join(', '))
}

function one<T>(
  id: string,
  title: string,
  drawn: Drawn<T>,
  component: AnyChart,
  more: Record<string, unknown> = {},
): ChartShown | ChartAbsent {
  if ('missing' in drawn) return { id, title, missing: drawn.missing }
  return { id, title, findings: drawn.findings, component, props: { id, data: drawn.data, basis: basisText(drawn.findings), ...more } }
}

export function chartsOf(doc: ReportDocument): (ChartShown | ChartAbsent)[] {
  const coverage = {
    columns: text.gamut.coverageColumns,
    rows: doc.findings
      .filter((f) => f.quantity === 'gamut_coverage')
      .map((f) => [referenceText(String(f.conditions.reference)), planeText(String(f.conditions.plane)), formatFigure(f), formatInterval(f)]),
  }
  return [
    one('chart-eotf', text.eotf.title, eotfData(doc), EotfChart),
    one('chart-greyscale', text.greyscale.title, greyscaleData(doc), GreyscaleChart),
    one('chart-white', text.white.title, whiteData(doc), WhiteChart),
    one('chart-window', text.window.title, windowData(doc), WindowChart),
    one('chart-gamut', text.gamut.title, gamutData(doc), GamutChart, { coverage }),
    one('chart-settle', text.settle.title, settleData(doc), SettleChart),
  ]
}
