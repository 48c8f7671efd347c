// Axes of the scopes: where values lie on what the server draws, as shares of its width and height from the top left.
import { LOCUS } from '../../lib/locus'
import { pqSignal, REFERENCE_TRIANGLES, type Reference, type Uv } from '../../lib/colour'

/** Luminances that a waveform's lines stand for, cd/m2. */
export const LEVELS = [0, 0.05, 0.5, 5, 26, 100, 203, 400, 1000, 2000, 4000, 10000]
export const waveformY = (cdm2: number): number => 1 - pqSignal(cdm2)

/** The parade's axis runs from -0.1 to 1.1 of the signal. */
export const SIGNALS = [0, 0.25, 0.5, 0.75, 1]
export const paradeY = (signal: number): number => 1 - (signal + 0.1) / 1.2

/** The vectorscope's, from -0.55 to 0.55 of Cb and Cr. */
const CHROMA = 0.55
export interface Place {
  x: number
  y: number
}
export const chromaPlace = (cb: number, cr: number): Place => ({ x: (cb + CHROMA) / (2 * CHROMA), y: 1 - (cr + CHROMA) / (2 * CHROMA) })

/** Luma weights of red and blue. source: Rec. ITU-R BT.601-7, BT.709-6, BT.2020-2 */
const LUMA = { bt601: [0.299, 0.114], bt709: [0.2126, 0.0722], bt2020_ncl: [0.2627, 0.0593], rgb: [0.2627, 0.0593] } as const
export type MatrixName = keyof typeof LUMA
/** The six full colours in the order around the scope: red, yellow, green, cyan, blue, magenta. */
export const FULL_COLOURS = ['R', 'Yl', 'G', 'Cy', 'B', 'Mg'] as const
export function fullColours(matrix: MatrixName): { name: string; place: Place }[] {
  const [kr, kb] = LUMA[matrix]
  const rgb = [[1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 1, 1], [0, 0, 1], [1, 0, 1]] as const
  return rgb.map(([r, g, b], i) => {
    const luma = kr * r + (1 - kr - kb) * g + kb * b
    return { name: FULL_COLOURS[i]!, place: chromaPlace((b - luma) / (2 * (1 - kb)), (r - luma) / (2 * (1 - kr))) }
  })
}

/** Both axes of the chromaticities run from 0 to 0.65. */
const UV = 0.65
export const uvPlace = ({ u, v }: Uv): Place => ({ x: u / UV, y: 1 - v / UV })

const pathThrough = (places: Place[], size: number) => places.map((p, i) => `${i === 0 ? 'M' : 'L'}${(p.x * size).toFixed(1)} ${(p.y * size).toFixed(1)}`).join('')
export const trianglePath = (reference: Reference, size: number): string => `${pathThrough(REFERENCE_TRIANGLES[reference].map(uvPlace), size)}Z`
export const locusPath = (size: number): string => pathThrough(LOCUS.map(uvPlace), size)
export const hexagonPath = (matrix: MatrixName, size: number): string => `${pathThrough(fullColours(matrix).map((c) => c.place), size)}Z`

/** Heights of a histogram's bins, 0 to 1, by the logarithm from a millionth of the pixels to all of them. */
export function heights(counts: readonly number[], pixels: number): number[] {
  return counts.map((n) => (n === 0 ? 0 : Math.max(0, 1 + Math.log10(n / pixels) / 6)))
}

/** A share of the pixels: "12.3 %", "0.04 %", "< 0.01 %", "0 %". */
export function shareText(share: number): string {
  if (!(share > 0)) return '0\u00a0%'
  if (share < 1e-4) return '< 0.01\u00a0%'
  return `${(100 * share).toFixed(share < 0.01 ? 2 : 1)}\u00a0%`
}
