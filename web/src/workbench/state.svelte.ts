// What the page knows of the bench, and how it stays true: a first look at everything, then what the events say.
import { api, problemOf } from './lib/api'
import { followed, kept, type Recent } from './lib/live'
import type * as m from './lib/model'
import { router } from './lib/router.svelte'
import { openStream, type Link, type ServerEvent } from './lib/sse'
import type { SurveyJob } from './programme/api'
import type { ClipJob, Showing } from './signals/api'
import { text } from './text'

export interface Notice {
  id: number
  text: string
  advice: string
  kind: 'done' | 'problem'
  /** Offers to take it back. */
  undo: boolean
}

class Workbench {
  bench = $state.raw<m.Bench | null>(null)
  loan = $state.raw<m.Loan | null>(null)
  findings = $state.raw<m.Findings | null>(null)
  plan = $state.raw<m.Plan | null>(null)
  /** Why there is no plan, in words. */
  planless = $state<m.Problem | null>(null)
  run = $state.raw<m.RunState | null>(null)
  recent = $state.raw<Recent>({ readings: [], warnings: [] })
  edits = $state.raw<m.Edits>({ edits: [], undo: null, redo: null })
  software = $state('')
  /** The survey of a programme that is being made, as far as events told. */
  surveyJob = $state.raw<SurveyJob | null>(null)
  /** What is shown on a full-screen page, as far as events told. */
  showing = $state.raw<Showing | null>(null)
  clipJob = $state.raw<ClipJob | null>(null)
  link = $state<Link>('connecting')
  /** The server could not be reached at the first look. */
  problem = $state<m.Problem | null>(null)
  notices = $state<Notice[]>([])
  busy = $state(false)
  /** Goes up whenever findings may have changed: what was fetched by an older number is fetched again. */
  version = $state(0)
  private documents = new Map<number, { version: number; doc: Promise<m.ReportDocument> }>()
  private next = 1
  private runHeard = 0
  private asked = new Map<string, number>()
  private arrived: ['reading' | 'warning', m.Reading | m.Warning][] = []
  private stream: ReturnType<typeof openStream> | null = null
  private waiting = new Map<string, ReturnType<typeof setTimeout>>()

  /** The loan in hand: the one in the address, else the one that runs, else the newest. */
  loanId = $derived.by(() => {
    const asked = Number(router.place.query.loan)
    const loans = this.bench?.loans ?? []
    if (loans.some((l) => l.id === asked)) return asked
    return this.bench?.running ?? loans.at(-1)?.id ?? null
  })
  running = $derived(this.run !== null && !['idle', 'paused'].includes(this.run.state))

  async start() {
    try {
      await this.loadBench()
      this.problem = null
    } catch (error) {
      this.problem = problemOf(error)
    }
    void api.version().then((v) => (this.software = v.software), () => {})
    this.stream ??= openStream({ url: api.events, onevent: (e) => this.take(e), onlink: (link) => this.linked(link) })
    const awake = () => document.visibilityState === 'visible' && this.link === 'lost' && this.stream?.kick()
    document.addEventListener('visibilitychange', awake)
    addEventListener('online', () => this.stream?.kick())
  }

  private linked(link: Link) {
    this.link = link
    if (link === 'live' && (this.bench === null || this.problem)) void this.loadBench().then(() => (this.problem = null), () => {})
  }

  /** Answers may overtake each other: one asked for earlier is not put over one asked for later. */
  private newest(what: string, asked: number): boolean {
    if (asked < (this.asked.get(what) ?? 0)) return false
    this.asked.set(what, asked)
    return true
  }

  async loadBench() {
    const asked = performance.now()
    const bench = await api.bench()
    if (this.newest('bench', asked)) this.bench = bench
    if (bench.exists) await this.loadEdits().catch(() => {})
  }

  private async loadEdits() {
    const asked = performance.now()
    const edits = await api.edits()
    if (this.newest('edits', asked)) this.edits = edits
  }

  async loadLoan(id: number | null) {
    if (id === null) {
      this.loan = this.plan = this.run = this.planless = this.findings = null
      return
    }
    const asked = performance.now()
    const fresh = await api.loan(id)
    if (id !== this.loanId || !this.newest(`loan ${id}`, asked)) return
    const other = this.loan?.id !== fresh.id
    this.loan = fresh
    // What the events said of the run since it was asked for is newer than the answer.
    if (other || this.runHeard < asked) this.run = fresh.run
    if (other) {
      this.plan = this.findings = null
      this.recent = { readings: [], warnings: [] }
      if (fresh.readings > 0) this.lastReadings(id).catch(() => {})
    }
    await Promise.all([this.loadPlan(id), this.loadFindings(id)])
  }

  private async loadFindings(id: number) {
    if (this.findings?.loan === id && this.findings.evaluated === this.loan?.evaluated) return
    const asked = performance.now()
    const findings = await api.findings(id)
    if (id !== this.loanId || !this.newest(`findings ${id}`, asked)) return
    this.findings = findings
  }

  /** So that a page opened in the middle of a run shows where it is. */
  private async lastReadings(id: number) {
    const { readings } = await api.lastReadings(id, kept.readings)
    if (id === this.loanId && this.recent.readings.length === 0) this.recent = { ...this.recent, readings }
  }

  private async loadPlan(id: number) {
    try {
      const plan = await api.plan(id)
      if (id === this.loanId) [this.plan, this.planless] = [plan, null]
    } catch (error) {
      if (id === this.loanId) [this.plan, this.planless] = [null, problemOf(error)]
    }
  }

  /** The report's document of a loan, fetched once for each state of the findings. */
  document(loan: number): Promise<m.ReportDocument> {
    const known = this.documents.get(loan)
    if (known?.version === this.version) return known.doc
    const doc = api.document(loan)
    this.documents.set(loan, { version: this.version, doc })
    doc.catch(() => this.documents.delete(loan))
    return doc
  }

  /** Once, a little later, however often it is asked for. */
  private soon(name: string, what: () => Promise<unknown>, ms = 150) {
    if (this.waiting.has(name)) return
    const timer = setTimeout(() => {
      this.waiting.delete(name)
      what().catch(() => {})
    }, ms)
    this.waiting.set(name, timer)
  }
  reload(what: 'bench' | 'loan' | 'findings' | 'all') {
    if (what !== 'bench') this.soon('loan', () => this.loadLoan(this.loanId))
    if (what !== 'findings') this.soon('bench', () => this.loadBench())
    if (what !== 'bench') this.version += 1
  }

  private take(event: ServerEvent) {
    let data: unknown
    try {
      data = JSON.parse(event.data)
    } catch {
      return
    }
    const mine = (loan: number | null | undefined) => loan === this.loanId
    switch (event.type as keyof m.EventData) {
      case 'run': {
        const run = data as m.RunState
        const before = this.run?.state
        if (mine(run.loan)) this.heard(run)
        if (run.state !== before && ['idle', 'paused'].includes(run.state)) this.reload('all')
        else if (run.state !== before) this.soon('bench', () => this.loadBench())
        break
      }
      case 'progress': {
        const progress = data as m.Progress
        if (!mine(progress.loan) || !this.run) break
        const moved = progress.procedure !== this.run.progress?.procedure
        this.run = { ...this.run, progress }
        if (moved) this.soon('loan', () => this.loadLoan(this.loanId), 500)
        break
      }
      case 'prompt': {
        const prompt = data as m.Prompt
        if (mine(prompt.loan) && this.run) this.run = { ...this.run, prompt }
        break
      }
      case 'reading':
      case 'warning':
        if (mine((data as m.Reading | m.Warning).loan)) this.later(event.type as 'reading' | 'warning', data as m.Reading | m.Warning)
        break
      case 'showing':
        this.showing = data as Showing
        break
      case 'clip':
        this.clipJob = data as ClipJob
        break
      case 'survey':
        this.surveyJob = data as SurveyJob
        break
      case 'finding':
        this.reload('all')
        break
      case 'changed': {
        const changed = data as m.EventData['changed']
        if (changed.what === 'bench') this.reload('all')
        else if (changed.loan === null || mine(changed.loan)) this.reload(changed.what)
        else this.version += 1
        break
      }
      case 'gap':
        this.reload('all')
        break
    }
  }

  heard(run: m.RunState) {
    this.run = run
    this.runHeard = performance.now()
  }
  /** A simulated loan gives hundreds of readings a second: they are shown together, well within a tenth of one. */
  private later(type: 'reading' | 'warning', data: m.Reading | m.Warning) {
    this.arrived.push([type, data])
    if (this.arrived.length > 1) return
    setTimeout(() => {
      const all = this.arrived.splice(0)
      this.recent = all.reduce((recent, [t, d]) => (d.loan === this.loanId ? followed(recent, t, d) : recent), this.recent)
    }, 40)
  }

  say(words: string, options: Partial<Omit<Notice, 'id' | 'text'>> = {}) {
    const notice = { id: this.next++, text: words, advice: '', kind: 'done' as const, undo: false, ...options }
    this.notices = [...this.notices.filter((n) => n.kind === 'problem').slice(-2), notice]
    if (notice.kind === 'done') setTimeout(() => this.dismiss(notice.id), 12_000)
  }
  dismiss(id: number) {
    this.notices = this.notices.filter((n) => n.id !== id)
  }
  fail(error: unknown) {
    const problem = problemOf(error)
    this.say(problem.message, { kind: 'problem', advice: problem.advice })
  }

  /** Does what a person asked for; what goes wrong is told, not thrown. */
  async act<T>(what: () => Promise<T>): Promise<T | null> {
    this.busy = true
    try {
      return await what()
    } catch (error) {
      this.fail(error)
      return null
    } finally {
      this.busy = false
    }
  }

  async control(request: m.RunRequest): Promise<boolean> {
    const id = this.loanId
    if (id === null) return false
    const run = await this.act(() => api.run(id, request))
    if (run) this.heard(run)
    return run !== null
  }

  async takeBack(way: 'undo' | 'redo') {
    const words = this.edits[way]
    if (words === null) return
    this.notices = this.notices.filter((n) => !n.undo)
    const edits = await this.act(() => api[way]())
    if (!edits) return
    this.newest('edits', performance.now())
    this.edits = edits
    this.say(way === 'undo' ? text.undo.undone(words) : text.undo.redone(words))
    this.reload('all')
  }
  /** After an edit: what is shown, and the way back. */
  async edited(words: string) {
    await this.loadBench()
    this.version += 1
    await this.loadLoan(this.loanId)
    this.say(words, { undo: this.edits.undo !== null })
  }
}

export const workbench = new Workbench()
