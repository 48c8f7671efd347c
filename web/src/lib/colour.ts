// The little colour arithmetic that drawing needs. Everything a verdict rests on comes with the document.

export interface Uv {
  u: number
  v: number
}

/** CIE 1976 u', v' of a chromaticity x, y. source: CIE 15:2018 */
export function uvOfXy(x: number, y: number): Uv {
  const d = -2 * x + 12 * y + 3
  return { u: (4 * x) / d, v: (9 * y) / d }
}

/** White of ITU and SMPTE work: x 0.3127, y 0.3290. source: Rec. ITU-R BT.2020-2 */
export const D65: Uv = uvOfXy(0.3127, 0.329)

export type Reference = 'bt709' | 'p3_d65' | 'bt2020'
/** Red, green, blue in u', v'. source: Rec. ITU-R BT.709-6, SMPTE RP 431-2 (P3), Rec. ITU-R BT.2020-2 */
export const REFERENCE_TRIANGLES: Record<Reference, readonly [Uv, Uv, Uv]> = {
  bt709: [uvOfXy(0.64, 0.33), uvOfXy(0.3, 0.6), uvOfXy(0.15, 0.06)],
  p3_d65: [uvOfXy(0.68, 0.32), uvOfXy(0.265, 0.69), uvOfXy(0.15, 0.06)],
  bt2020: [uvOfXy(0.708, 0.292), uvOfXy(0.17, 0.797), uvOfXy(0.131, 0.046)],
}

/** PQ signal of a luminance: a perceptual spacing for luminance axes, 0 for 0 cd/m2. source: SMPTE ST 2084:2014 */
export function pqSignal(cdm2: number): number {
  const black = Math.pow(3424 / 4096, 2523 / 32)
  const y = Math.pow(Math.max(cdm2, 0) / 10000, 2610 / 16384)
  return Math.pow((3424 / 4096 + (2413 / 128) * y) / (1 + (2392 / 128) * y), 2523 / 32) - black
}

export const distance = (a: Uv, b: Uv): number => Math.hypot(a.u - b.u, a.v - b.v)
