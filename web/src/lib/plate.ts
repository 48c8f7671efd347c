// One chart as a picture that stands by itself: title above, drawing, what it rests on below. Two shapes: as wide as an
// article's column, and 16:9 for a screen or a video.
import type { Component } from 'svelte'
import { fileOf, writtenIn } from './svg'

export interface Drawing {
  svg: SVGSVGElement
  ground: string
  ink: string
}
/** A component that a page may set under this key; every chart then shows it in place of its own button. */
export const CHART_TOOLS = 'chart-tools'
export interface ChartToolsProps {
  id: string
  title: string
  caption: string
  basis: string
  at: <T>(width: number, paper: boolean, take: (drawing: Drawing) => T) => Promise<T | null>
}
export type ChartTools = Component<ChartToolsProps>

export type Shape = 'article' | 'wide'
/** Size of the picture in px (the article's height follows the drawing), and the width that its chart is laid out for. */
export const SHAPES: Record<Shape, { width: number; height: number | null; drawn: number; margin: number; title: number; small: number }> = {
  article: { width: 1600, height: null, drawn: 760, margin: 64, title: 44, small: 25 },
  wide: { width: 1920, height: 1080, drawn: 1060, margin: 72, title: 52, small: 26 },
}

/** Words in lines no wider than `width` by `measure`; a word that is wider stands alone. */
export function wrapped(words: string, width: number, measure: (text: string) => number): string[] {
  const lines: string[] = []
  for (const word of words.split(/ +/).filter(Boolean)) {
    const last = lines.at(-1)
    if (last !== undefined && measure(`${last} ${word}`) <= width) lines[lines.length - 1] = `${last} ${word}`
    else lines.push(word)
  }
  return lines
}

const SVG = 'http://www.w3.org/2000/svg'
function made(name: string, attributes: Record<string, string | number>, content = ''): SVGElement {
  const element = document.createElementNS(SVG, name)
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value))
  element.textContent = content
  return element
}

export interface Words {
  title: string
  /** Of which display, by whom. */
  subject: string
  caption: string
  basis: string
}

export interface Plate {
  svg: string
  width: number
  height: number
}

/** Where the drawing stands: as large as fits between title and foot, never beyond the margins. */
export function placed(box: { width: number; height: number }, room: { x: number; y: number; width: number; height: number | null }) {
  const scale = Math.min(room.width / box.width, room.height === null ? Infinity : room.height / box.height)
  const width = box.width * scale
  return { x: room.x + (room.width - width) / 2, y: room.y, width, height: box.height * scale }
}

export function plateOf(drawing: Drawing, shape: Shape, words: Words): Plate {
  const { width, height: fixed, margin, title, small } = SHAPES[shape]
  const family = getComputedStyle(drawing.svg).fontFamily
  const pen = document.createElement('canvas').getContext('2d')
  const measure = (size: number) => (text: string) => {
    if (!pen) return text.length * size * 0.55
    pen.font = `${size}px ${family}`
    return pen.measureText(text).width
  }
  const inner = width - 2 * margin
  const foot = [...(shape === 'article' ? wrapped(words.caption, inner, measure(small)) : []), ...wrapped(words.basis, inner, measure(small))]
  const leading = Math.round(small * 1.45)
  const top = margin + title * 1.15 + (words.subject === '' ? 0 : leading * 1.2) + small
  const footHeight = foot.length * leading + small
  const { width: w, height: h } = drawing.svg.viewBox.baseVal
  const room = { x: margin, y: top, width: inner, height: fixed === null ? null : fixed - top - footHeight - margin }
  const place = placed({ width: w, height: h }, room)
  const height = fixed ?? Math.round(place.y + place.height + footHeight + margin)

  const out = made('svg', { xmlns: SVG, width, height, viewBox: `0 0 ${width} ${height}`, role: 'img', 'font-family': family }) as SVGSVGElement
  const copy = writtenIn(drawing.svg)
  for (const [key, value] of Object.entries(place)) copy.setAttribute(key, String(Math.round(value * 100) / 100))
  out.append(
    made('title', {}, words.title),
    made('desc', {}, words.caption),
    made('rect', { width, height, fill: drawing.ground, 'data-ground': '' }),
    made('text', { x: margin, y: margin + title * 0.8, 'font-size': title, 'font-weight': 600, fill: drawing.ink }, words.title),
  )
  if (words.subject !== '')
    out.append(made('text', { x: margin, y: margin + title * 0.95 + leading, 'font-size': small, fill: drawing.ink }, words.subject))
  out.append(copy)
  foot.forEach((line, i) =>
    out.append(
      made('text', { x: margin, y: height - margin - (foot.length - 1 - i) * leading, 'font-size': small, fill: drawing.ink, 'fill-opacity': 0.75 }, line),
    ),
  )
  return { svg: fileOf(out), width, height }
}

/** A typeface that a picture carries with it: drawn by itself, it cannot use those of the page. */
export interface Typeface {
  family: string
  /** Of its file. */
  url: string
  range: string
}

async function carried({ family, url, range }: Typeface): Promise<string> {
  const bytes = new Uint8Array(await (await fetch(url)).arrayBuffer())
  let text = ''
  for (const byte of bytes) text += String.fromCharCode(byte)
  return `@font-face{font-family:'${family}';font-weight:100 900;unicode-range:${range};src:url(data:font/woff2;base64,${btoa(text)})}`
}

/** The picture as PNG, pixel for pixel. */
export async function pngOf(plate: Plate, typefaces: Typeface[] = []): Promise<Blob> {
  const faces = await Promise.all(typefaces.map(carried))
  const svg = faces.length === 0 ? plate.svg : plate.svg.replace(/(<svg[^>]*>)/, (start) => `${start}<style>${faces.join('')}</style>`)
  const url = URL.createObjectURL(new Blob([svg], { type: 'image/svg+xml' }))
  try {
    const image = new Image()
    image.src = url
    await image.decode()
    const canvas = Object.assign(document.createElement('canvas'), { width: plate.width, height: plate.height })
    canvas.getContext('2d')?.drawImage(image, 0, 0, plate.width, plate.height)
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/png'))
    if (!blob) throw new Error('the browser made no PNG')
    return blob
  } finally {
    URL.revokeObjectURL(url)
  }
}
