// What a report may leave out. Questions, and where its figures come from, always stay: a report is its answers and their
// provenance. What was left out is named in it.
import { text } from '../text'
import { chartsOf } from './charts'
import type { ReportDocument } from './document'

export interface Part {
  key: string
  title: string
  /** The part it belongs to and goes with. */
  of: string | null
}

type Section = keyof typeof text.sections
const OPTIONAL: Section[] = ['charts', 'findings', 'correction', 'attachments', 'programmes', 'methods', 'instrument', 'place']

const holds = (doc: ReportDocument, key: Section): boolean =>
  (key !== 'programmes' || doc.titles.length > 0) && (key !== 'attachments' || doc.attachments.length > 0) && (key !== 'correction' || doc.corrections.length > 0)

/** Everything in this report that can be left out. */
export function chosenParts(doc: ReportDocument): Part[] {
  return OPTIONAL.filter((key) => holds(doc, key)).flatMap((key): Part[] => {
    const part = { key, title: text.sections[key], of: null }
    if (key !== 'charts') return [part]
    return [part, ...chartsOf(doc).filter((c) => 'props' in c).map((c) => ({ key: c.id, title: c.title, of: 'charts' }))]
  })
}

export const leftOut = (doc: ReportDocument, key: string): boolean => doc.without?.includes(key) ?? false

/** Titles of what was left out, for the reader. */
export const leftOutTitles = (doc: ReportDocument): string[] =>
  chosenParts(doc)
    .filter((p) => leftOut(doc, p.key) && !(p.of !== null && leftOut(doc, p.of)))
    .map((p) => p.title)
