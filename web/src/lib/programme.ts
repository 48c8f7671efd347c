// Surveyed programmes: from the document to what chart and tables show.
import type { NumberTable, ProgrammeData } from '../charts/types'
import { text } from '../text'
import type { Title } from './document'
import { clockText, formatNumber, lightText } from './format'

export function programmeData(title: Title): ProgrammeData {
  const { course } = title
  const points = course.time_s.map((timeS, i) => ({
    timeS,
    maximumCdm2: course.max_cdm2[i] ?? 0,
    highCdm2: course.high_cdm2[i] ?? 0,
    meanCdm2: course.mean_cdm2[i] ?? 0,
  }))
  return { points, framesPerPoint: course.frames_per_column, endS: points.at(-1)?.timeS ?? 0 }
}

export function levelsTable(title: Title): NumberTable {
  const names = text.programme.figures
  return {
    columns: text.programme.levelColumns,
    rows: (Object.keys(names) as (keyof typeof names)[]).map((key) => {
      const at = title.figures[key]
      return [names[key], formatNumber(at.cdm2, 2), clockText(at.time_s), String(at.frame)]
    }),
  }
}

export function declaredTable(title: Title): NumberTable {
  return {
    worded: true,
    columns: text.programme.declaredColumns,
    rows: title.declared.map((c) => [c.name, c.declared, c.measured, text.programme.agrees(c.agrees), c.explanation]),
  }
}

export function momentsTable(title: Title): NumberTable {
  return {
    columns: text.programme.momentColumns,
    rows: title.moments.map((m) => [
      text.programme.tests[m.test],
      clockText(m.time_s),
      String(m.frame),
      String(m.scene),
      String(Number(m.value.toPrecision(3))),
      lightText(m.max_cdm2),
      lightText(m.mean_cdm2),
    ]),
  }
}
