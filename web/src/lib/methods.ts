// The methods behind the findings, each once.
import type { Finding } from './document'

export interface MethodUse {
  method: string
  name: string
  quantities: string[]
  sources: string[]
}

export function methodsOf(findings: Finding[]): MethodUse[] {
  const out = new Map<string, MethodUse>()
  for (const f of findings) {
    const key = `${f.method}|${f.method_version}`
    const use = out.get(key) ?? { method: key, name: `${f.method}, version ${f.method_version}`, quantities: [], sources: [] }
    if (!use.quantities.includes(f.title)) use.quantities.push(f.title)
    for (const source of f.sources) if (!use.sources.includes(source)) use.sources.push(source)
    out.set(key, use)
  }
  return [...out.values()]
}

/** Readings and methods that a chart stands on; a reading that serves two findings counts once. */
export function basisOf(findings: Finding[]): { readings: number; methods: string[] } {
  const read = new Set<number>()
  for (const f of findings) for (const [first, last] of f.readings) for (let id = first; id <= last; ++id) read.add(id)
  return { readings: read.size, methods: [...new Set(findings.map((f) => f.method))] }
}
