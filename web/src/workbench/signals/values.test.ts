import { describe, expect, it } from 'vitest'
import { clipFields, isClip, valuesText } from './api'

describe('parameters of a picture', () => {
  it('are sent where they were given', () => {
    expect(valuesText({})).toBe('')
    expect(valuesText({ area_percent: 4, level_cdm2: null, columns: NaN, rows: 8 })).toBe('area_percent=4,rows=8')
  })
})

describe('a clip', () => {
  it('is told by the ending of its name', () => {
    for (const name of ['window.mp4', 'a.b.mov', 'w.mkv']) expect(isClip(name)).toBe(true)
    for (const name of ['window.png', 'mp4', 'w.mkv.exr', '']) expect(isClip(name)).toBe(false)
  })
  it('is sent with what was filled in', () => {
    expect(clipFields({ rate: '24000/1001', hold: null, quality: '', chroma: '' })).toEqual({ rate: '24000/1001' })
    expect(clipFields({ rate: '', hold: 48, quality: 'visual', chroma: '444' })).toEqual({ hold: 48, quality: 'visual', chroma: '444' })
  })
})
