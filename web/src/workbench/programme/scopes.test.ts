import { describe, expect, it } from 'vitest'
import { chromaPlace, fullColours, heights, paradeY, shareText, uvPlace, waveformY } from './scopes'

describe('axes of the scopes', () => {
  it('place light by PQ signal', () => {
    expect(waveformY(0)).toBeCloseTo(1, 5)
    expect(waveformY(10000)).toBeCloseTo(0, 5)
    // 100 cd/m2 has the PQ signal 0.5081 (SMPTE ST 2084)
    expect(waveformY(100)).toBeCloseTo(1 - 0.5081, 3)
  })
  it('place signals and colour differences', () => {
    expect(paradeY(-0.1)).toBeCloseTo(1)
    expect(paradeY(1.1)).toBeCloseTo(0)
    expect(chromaPlace(0, 0)).toEqual({ x: 0.5, y: 0.5 })
    const full = fullColours('bt709')
    // Full blue has Cb of 0.5, full red Cr of 0.5, by the definition of both
    expect(full.find((c) => c.name === 'B')!.place.x).toBeCloseTo((0.5 + 0.55) / 1.1)
    expect(full.find((c) => c.name === 'R')!.place.y).toBeCloseTo(1 - (0.5 + 0.55) / 1.1)
    // Opposite colours lie opposite
    const [yellow, blue] = [full.find((c) => c.name === 'Yl')!.place, full.find((c) => c.name === 'B')!.place]
    expect(yellow.x + blue.x).toBeCloseTo(1)
    expect(yellow.y + blue.y).toBeCloseTo(1)
  })
  it('place chromaticities with v upwards', () => {
    expect(uvPlace({ u: 0.65, v: 0 })).toEqual({ x: 1, y: 1 })
  })
  it('show rare pixels', () => {
    expect(heights([0, 1, 1_000_000], 1_000_000)).toEqual([0, 0, 1])
    expect(heights([1000], 1_000_000)[0]).toBeCloseTo(0.5)
    expect([shareText(0), shareText(0.00001), shareText(0.0012), shareText(0.123)]).toEqual(['0\u00a0%', '< 0.01\u00a0%', '0.12\u00a0%', '12.3\u00a0%'])
  })
})
