// The only file that talks to the server. A refusal comes as a Refusal, with what to do.
import { text } from '../text'
import type * as m from './model'

export const BASE = 'api/1'

export class Refusal extends Error {
  constructor(
    readonly problem: m.Problem,
    readonly status: number,
  ) {
    super(problem.message)
  }
}

const isProblem = (value: unknown): value is m.Problem => typeof (value as m.Problem | null)?.message === 'string'

/** Any failure as a problem to show. */
export function problemOf(error: unknown): m.Problem {
  if (error instanceof Refusal) return error.problem
  return { code: 'io', message: text.problem.unreachable, advice: text.problem.unreachableAdvice }
}

async function answer<T>(response: Response): Promise<T> {
  const body: unknown = await response.json().catch(() => null)
  if (response.ok) return body as T
  throw new Refusal(isProblem(body) ? body : { code: 'io', message: text.problem.status(response.status), advice: '' }, response.status)
}

export async function get<T>(path: string, signal?: AbortSignal): Promise<T> {
  return answer<T>(await fetch(`${BASE}/${path}`, { signal: signal ?? null, headers: { Accept: 'application/json' } }))
}

export async function send<T>(method: 'POST' | 'PUT' | 'DELETE', path: string, body: unknown = {}): Promise<T> {
  const headers = { 'X-Provenit': '1', 'Content-Type': 'application/json', Accept: 'application/json' }
  return answer<T>(await fetch(`${BASE}/${path}`, { method, headers, body: JSON.stringify(body) }))
}

/** Sends a file's bytes as they are, telling how far it is (0 to 1). `cancel` stops it. */
export function upload<T>(path: string, file: Blob, onprogress: (share: number) => void, cancel?: AbortSignal): Promise<T> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest()
    request.open('POST', `${BASE}/${path}`)
    request.setRequestHeader('X-Provenit', '1')
    request.setRequestHeader('Content-Type', 'application/octet-stream')
    request.upload.onprogress = (e) => e.lengthComputable && onprogress(e.loaded / e.total)
    request.onerror = () => reject(new TypeError('network'))
    request.onabort = () => reject(new Refusal({ code: 'cancelled', message: text.problem.cancelled, advice: '' }, 0))
    request.onload = () => {
      answer<T>(new Response(request.responseText, { status: request.status })).then(resolve, reject)
    }
    cancel?.addEventListener('abort', () => request.abort())
    request.send(file)
  })
}

export const query = (values: Record<string, string | number | boolean | undefined>): string => {
  const kept = Object.entries(values).filter((pair): pair is [string, string | number | boolean] => pair[1] !== undefined && pair[1] !== '')
  return kept.length === 0 ? '' : `?${new URLSearchParams(kept.map(([k, v]) => [k, String(v)])).toString()}`
}

export const api = {
  events: `${BASE}/events`,
  /** The report as a file; `view`: to look at rather than to save. */
  reportHtml: (loan: number, without: string[] = [], view = false) =>
    `${BASE}/loans/${loan}/report.html${query({ without: without.join(','), view: view ? 1 : undefined })}`,
  dataZip: (loan: number) => `${BASE}/loans/${loan}/data.zip`,
  linkSvg: `${BASE}/link.svg`,

  version: () => get<{ software: string }>('version'),
  link: () => get<m.Link>('link'),
  choices: () => get<m.Choices>('choices'),
  bench: () => get<m.Bench>('bench'),
  createBench: (title: string, evaluator: string) => send<m.Bench>('POST', 'bench', { title, evaluator }),
  addDisplay: (input: m.DisplayInput) => send<m.Named>('POST', 'displays', input),
  putDisplay: (id: number, input: m.DisplayInput) => send<m.Named>('PUT', `displays/${id}`, input),
  addInstrument: (input: m.InstrumentInput) => send<m.Named>('POST', 'instruments', input),
  putInstrument: (id: number, input: m.InstrumentInput) => send<m.Named>('PUT', `instruments/${id}`, input),
  addRoom: (input: m.RoomInput) => send<m.Named>('POST', 'rooms', input),
  putRoom: (id: number, input: m.RoomInput) => send<m.Named>('PUT', `rooms/${id}`, input),
  addLoan: (input: m.LoanInput) => send<m.Named>('POST', 'loans', input),
  putLoan: (id: number, input: m.LoanInput) => send<m.Named>('PUT', `loans/${id}`, input),
  loan: (id: number) => get<m.Loan>(`loans/${id}`),

  edits: () => get<m.Edits>('edits'),
  undo: () => send<m.Edits>('POST', 'undo'),
  redo: () => send<m.Edits>('POST', 'redo'),

  requirementSets: () => get<{ sets: m.RequirementSet[] }>('requirement-sets').then((r) => r.sets),
  requirementSet: (id: string) => get<m.RequirementSetDetail>(`requirement-sets/${encodeURIComponent(id)}`),
  addQuestions: (loan: number, sets: string[]) => send<{ added: number; replaced: number }>('POST', `loans/${loan}/questions`, { sets }),
  addOwnQuestions: (loan: number, toml: string) => send<{ added: number; replaced: number }>('POST', `loans/${loan}/questions`, { toml }),

  weigh: (loan: number, question: number, weight: number) => send<m.Question>('PUT', `loans/${loan}/questions/${question}`, { weight }),
  plan: (loan: number, hours?: number) => get<m.Plan>(`loans/${loan}/plan${query({ hours })}`),
  cautions: (loan: number) => get<{ cautions: string[] }>(`loans/${loan}/cautions`).then((r) => r.cautions),
  runState: (loan: number) => get<m.RunState>(`loans/${loan}/run`),
  run: (loan: number, request: m.RunRequest) => send<m.RunState>('POST', `loans/${loan}/run`, request),
  answer: (loan: number, number: number, words: string) => send<m.RunState>('POST', `loans/${loan}/answer`, { number, text: words }),

  lastReadings: (loan: number, last: number) => get<m.Readings>(`loans/${loan}/readings${query({ last })}`),
  findings: (loan: number) => get<m.Findings>(`loans/${loan}/findings`),
  compare: (loans: number[]) => get<m.Comparison>(`compare${query({ loans: loans.join(',') })}`),
  trace: (loan: number, finding: number) => get<m.FindingTrace>(`loans/${loan}/findings/${finding}`),
  evaluate: (loan: number) => send<m.Evaluated>('POST', `loans/${loan}/evaluate`),
  /** Without the rows of readings, which no chart draws. */
  document: (loan: number, signal?: AbortSignal) => get<m.ReportDocument>(`loans/${loan}/document?readings=no`, signal),
  publish: (loan: number, without: string[]) => send<m.Published>('POST', `loans/${loan}/report`, without.length > 0 ? { without } : {}),
  importFile: (loan: number, procedure: string, file: File, onprogress: (share: number) => void, cancel?: AbortSignal) =>
    upload<{ run: number; stored: number; refused: m.Problem[]; remarks: string[] }>(
      `loans/${loan}/import${query({ procedure, name: file.name })}`,
      file,
      onprogress,
      cancel,
    ),
}
