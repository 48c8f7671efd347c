// What is kept of the run as it goes: the last readings and warnings, and what a reading says in figures.
import { uvOfXy, type Uv } from '../../lib/colour'
import type { Encoding } from '../../lib/document'
import type { Reading, Warning } from './model'

export const kept = { readings: 120, warnings: 20 }
export interface Recent {
  readings: Reading[]
  warnings: Warning[]
}

/** The newest at the end; a reading that is known already (after a reconnection) is not taken twice. */
export function followed(recent: Recent, type: 'reading' | 'warning', data: Reading | Warning): Recent {
  if (type === 'reading') {
    const reading = data as Reading
    if (recent.readings.some((r) => r.id === reading.id)) return recent
    return { ...recent, readings: [...recent.readings, reading].slice(-kept.readings) }
  }
  const warning = data as Warning
  if (recent.warnings.some((w) => w.at === warning.at && w.text === warning.text)) return recent
  return { ...recent, warnings: [...recent.warnings, warning].slice(-kept.warnings) }
}

export interface Chromaticity {
  x: number
  y: number
  uv: Uv
}
/** null where there is too little light for one. */
export function chromaticityOf(r: Pick<Reading, 'X_cdm2' | 'Y_cdm2' | 'Z_cdm2'>): Chromaticity | null {
  const sum = r.X_cdm2 + r.Y_cdm2 + r.Z_cdm2
  if (!(sum > 0) || !(r.Y_cdm2 > 0)) return null
  const [x, y] = [r.X_cdm2 / sum, r.Y_cdm2 / sum]
  return { x, y, uv: uvOfXy(x, y) }
}

/** E' of a code value. source: Rec. ITU-R BT.2100-3, table 9 (quantisation) */
export function signalOfCode(code: number, { bits, range }: Pick<Encoding, 'bits' | 'range'>): number {
  if (range === 'full') return code / (2 ** bits - 1)
  return (code / 2 ** (bits - 8) - 16) / 219
}

/** PQ EOTF in units of 10 000 cd/m2. source: Rec. ITU-R BT.2100-3, table 4 */
function pqLight(signal: number): number {
  const p = Math.pow(Math.max(signal, 0), 32 / 2523)
  return Math.pow(Math.max(p - 3424 / 4096, 0) / (2413 / 128 - (2392 / 128) * p), 16384 / 2610)
}

/** Linear RGB of each container to linear BT.709. source: SMPTE RP 177 (derived from the primaries) */
const TO_BT709: Record<Encoding['container'], number[][]> = {
  bt709: [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
  p3_d65: [[1.2249, -0.2249, 0], [-0.0421, 1.0421, 0], [-0.0196, -0.0786, 1.0983]],
  bt2020: [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]],
}

/** The signal as a small patch of this page: its hue and rough lightness, never brighter than a mid grey, so that it lights
 *  no room. No light measurement; the numbers beside it are what was sent. */
export function swatchOf(code: readonly number[], encoding: Encoding): string {
  const light = code.map((c) => {
    const signal = Math.min(1, Math.max(0, signalOfCode(c, encoding)))
    // Above 1000 cd/m2 the patch grows no lighter.
    return encoding.transfer === 'pq' ? Math.min(1, pqLight(signal) * 10) : Math.pow(signal, 2.4)
  })
  const channels = TO_BT709[encoding.container].map((row) => {
    const linear = Math.min(1, Math.max(0, row.reduce((sum, k, i) => sum + k * (light[i] ?? 0), 0)))
    return Math.round(255 * 0.62 * Math.pow(linear, 1 / 2.4))
  })
  return `rgb(${channels.join(' ')})`
}
