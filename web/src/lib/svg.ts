// A drawing that stands alone: colours, fonts and lines written in, nothing left that only the page knows.

const PROPERTIES = [
  'fill',
  'fill-opacity',
  'stroke',
  'stroke-width',
  'stroke-dasharray',
  'stroke-linecap',
  'stroke-linejoin',
  'stroke-opacity',
  'opacity',
  'font-family',
  'font-size',
  'font-weight',
  'text-anchor',
  'dominant-baseline',
  'paint-order',
] as const

const MARGIN = 16 // px of ground around the drawing, which on the page its surroundings give
const SVG = 'http://www.w3.org/2000/svg'

/** A copy of the drawing with its looks written in, without the cursor. */
export function writtenIn(svg: SVGSVGElement): SVGSVGElement {
  const copy = svg.cloneNode(true) as SVGSVGElement
  const originals = [svg, ...svg.querySelectorAll('*')]
  const copies = [copy, ...copy.querySelectorAll('*')]
  originals.forEach((original, i) => {
    const style = getComputedStyle(original)
    const target = copies[i] as SVGElement
    for (const property of PROPERTIES) {
      const value = style.getPropertyValue(property)
      if (value !== '') target.setAttribute(property, value)
    }
    target.removeAttribute('style')
    if (!target.classList.contains('cursor')) target.removeAttribute('class')
  })
  for (const cursor of copy.querySelectorAll('.cursor')) cursor.remove()
  copy.setAttribute('xmlns', SVG)
  copy.removeAttribute('aria-hidden')
  return copy
}

/** The drawing as a file: looks as on the page now, with its title and description. */
export function standaloneSvg(svg: SVGSVGElement, title: string, description: string, background: string): string {
  const copy = writtenIn(svg)
  const width = svg.viewBox.baseVal.width + 2 * MARGIN
  const height = svg.viewBox.baseVal.height + 2 * MARGIN
  copy.setAttribute('viewBox', `${-MARGIN} ${-MARGIN} ${width} ${height}`)
  copy.setAttribute('width', String(width))
  copy.setAttribute('height', String(height))
  copy.setAttribute('role', 'img')
  copy.prepend(
    Object.assign(document.createElementNS(SVG, 'title'), { textContent: title }),
    Object.assign(document.createElementNS(SVG, 'desc'), { textContent: description }),
    ground(width, height, background),
  )
  return fileOf(copy)
}

export const fileOf = (svg: SVGSVGElement): string => `<?xml version="1.0" encoding="UTF-8"?>\n${new XMLSerializer().serializeToString(svg)}\n`

function ground(width: number, height: number, fill: string): SVGElement {
  const rect = document.createElementNS(SVG, 'rect')
  rect.setAttribute('x', String(-MARGIN))
  rect.setAttribute('y', String(-MARGIN))
  rect.setAttribute('width', String(width))
  rect.setAttribute('height', String(height))
  rect.setAttribute('fill', fill)
  rect.setAttribute('data-ground', '')
  return rect
}

/** Hands `content` to the reader as a file. */
export function download(name: string, content: string | Blob): void {
  const url = URL.createObjectURL(typeof content === 'string' ? new Blob([content], { type: 'image/svg+xml' }) : content)
  const link = Object.assign(document.createElement('a'), { href: url, download: name })
  link.click()
  URL.revokeObjectURL(url)
}
