import { mount } from 'svelte'
import type { ReportDocument } from './lib/document'
import Report from './Report.svelte'
import './style.css'
import { text } from './text'

const target = document.getElementById('page')!
const doc = JSON.parse(document.getElementById('provenit-document')?.textContent ?? '{}') as Partial<ReportDocument>
if (doc.schema === 'provenit-report/1') mount(Report, { target, props: { doc: doc as ReportDocument } })
else target.textContent = text.broken
