// Where the items of a chart's key stand: left to right, wrapped at the drawing's width.

export interface KeyItem {
  label: string
  mark: 'line' | 'band' | 'whisker' | 'dot' | 'square' | 'diamond' | 'cross'
  /** Class of the line or mark in chart.css. */
  style?: string
}

const ROW = 20
const LETTER = 6.9 // widest usual mean for 12 px system fonts, so that items never touch

export function placeKey(items: KeyItem[], width: number): (KeyItem & { x: number; y: number })[] {
  let x = 0
  let y = 0
  return items.map((item) => {
    const size = 29 + item.label.length * LETTER + 18
    if (x > 0 && x + size - 18 > width) {
      x = 0
      y += ROW
    }
    const placed = { ...item, x, y }
    x += size
    return placed
  })
}

export function keyHeight(items: KeyItem[], width: number): number {
  const last = placeKey(items, width).at(-1)
  return last ? last.y + ROW : 0
}
