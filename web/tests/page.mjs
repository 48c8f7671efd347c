// node tests/page.mjs FILE.html OUTDIR: opens the page from its file in Chromium and holds it against what it promises.
import { AxeBuilder } from '@axe-core/playwright'
import assert from 'node:assert/strict'
import { mkdirSync, statSync } from 'node:fs'
import { readFile, writeFile } from 'node:fs/promises'
import { join, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'
import { launch, THEMES, WIDTHS } from './browser.mjs'

const [file, out] = process.argv.slice(2)
if (!file || !out) {
  console.error('usage: node tests/page.mjs FILE.html OUTDIR')
  process.exit(2)
}
mkdirSync(out, { recursive: true })
const browser = await launch()
let checks = 0
const done = (what) => console.log(`ok ${++checks} ${what}`)

async function open(options, what = file) {
  const context = await browser.newContext({ acceptDownloads: true, ...options })
  const page = await context.newPage()
  const noise = []
  page.on('console', (m) => ['error', 'warning'].includes(m.type()) && noise.push(m.text()))
  page.on('pageerror', (e) => noise.push(String(e)))
  page.on('request', (r) => /^(file|data|blob):/.test(r.url()) || noise.push(`fetches ${r.url()}`))
  await page.goto(pathToFileURL(resolve(what)).href)
  await page.waitForSelector('main')
  return { page, noise, close: () => context.close() }
}

/** How every shape and text of a drawing looks, in order; without the cursor and the ground that saving adds. */
const looks = (svg) =>
  [...svg.querySelectorAll('path, line, circle, rect, text')]
    .filter((e) => !e.closest('.cursor') && e.getAttribute('data-ground') === null)
    .map((e) => {
      const s = getComputedStyle(e)
      return [e.tagName, s.fill, s.stroke, s.strokeWidth, s.strokeDasharray, s.fontSize, s.textAnchor, s.opacity].join(' ')
    })

async function accessible(page, where) {
  const { violations, passes } = await new AxeBuilder({ page }).options({ resultTypes: ['violations'] }).analyze()
  const grave = violations.filter((v) => ['serious', 'critical'].includes(v.impact))
  assert.deepEqual(grave.map((v) => `${v.id}: ${v.nodes[0]?.html}`), [], where)
  assert.ok(passes.length > 15, `axe checked little at ${where}`)
}

// Both themes, every width: quiet, accessible, no sideways scroll; no scroll with everything unfolded either.
for (const colorScheme of THEMES)
  for (const width of [...WIDTHS, 320]) {
    const where = `${width} px, ${colorScheme}`
    const { page, noise, close } = await open({ viewport: { width, height: 900 }, colorScheme })
    for (const unfolded of width === 320 ? [false] : [false, true]) {
      if (unfolded) await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)))
      const sideways = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)
      assert.ok(sideways <= 0, `${where}: scrolls sideways by ${sideways} px${unfolded ? ', unfolded' : ''}`)
      if (width !== 320 && !unfolded) await accessible(page, where)
    }
    assert.deepEqual(noise, [], where)
    await close()
    done(`quiet and accessible at ${where}`)
  }

// The tables of numbers keep the rules too. The raw readings are one more such table, and long: left folded.
{
  const { page, close } = await open({ viewport: { width: 768, height: 900 } })
  await page.evaluate(() => document.querySelectorAll('main details:not(#provenance details)').forEach((d) => (d.open = true)))
  await accessible(page, 'unfolded')
  await close()
  done('accessible with its tables unfolded')
}

// Every chart: reached by Tab, moved by keys, says its values; its SVG stands alone; its numbers are in a table.
{
  const { page, noise, close } = await open({ viewport: { width: 1280, height: 900 } })
  const ids = await page.locator('figure.chart').evaluateAll((all) => all.map((f) => f.id))
  const absent = await page.locator('.absent').count()
  assert.equal(ids.length + absent, 8)
  for (const id of ids) {
    const drawing = page.locator(`#${id} [role=slider]`)
    await page.locator(`#${id} button`).last().focus()
    await page.keyboard.press('Tab')
    assert.ok(await drawing.evaluate((e) => e === document.activeElement), `${id}: Tab does not reach the chart`)
    const said = async () => drawing.getAttribute('aria-valuetext')
    await page.keyboard.press('Home')
    const first = await said()
    await page.keyboard.press('ArrowRight')
    const second = await said()
    await page.keyboard.press('End')
    const last = await said()
    assert.equal(new Set([first, second, last]).size, 3, `${id}: the keys do not move: ${first} | ${second} | ${last}`)
    for (const text of [first, second, last]) assert.match(text, /\d/, id)
    assert.equal(await drawing.getAttribute('aria-valuenow'), await drawing.getAttribute('aria-valuemax'))
    assert.equal(await page.locator(`#${id} .cursor`).count(), 1, `${id}: no cursor`)
    assert.ok((await page.locator(`#${id} .read`).innerText()).includes(last), `${id}: the value is not shown`)

    const [saved] = await Promise.all([page.waitForEvent('download'), page.locator(`#${id} button`).last().click()])
    assert.equal(saved.suggestedFilename(), `${id}.svg`)
    const path = join(out, `${id}.svg`)
    await saved.saveAs(path)
    const svg = await readFile(path, 'utf8')
    for (const foreign of ['var(', 'currentColor', 'light-dark', 'class=', 'style=', 'NaN', 'Infinity', 'undefined'])
      assert.ok(!svg.includes(foreign), `${id}.svg has ${foreign}`)
    const parsed = await page.evaluate((text) => {
      const doc = new DOMParser().parseFromString(text, 'image/svg+xml')
      const bad = doc.querySelector('parsererror')?.textContent ?? null
      return { bad, title: doc.querySelector('title')?.textContent, texts: doc.querySelectorAll('text').length, width: doc.documentElement.getAttribute('width') }
    }, svg)
    assert.equal(parsed.bad, null, `${id}.svg`)
    assert.ok(parsed.title && parsed.texts > 4 && Number(parsed.width) > 300, `${id}.svg: ${JSON.stringify(parsed)}`)

    const alone = await (await browser.newContext()).newPage()
    await alone.goto(pathToFileURL(resolve(path)).href)
    assert.deepEqual(await alone.locator('svg').evaluate(looks), await page.locator(`#${id} svg`).evaluate(looks), `${id}.svg looks different`)
    await alone.context().close()

    const rows = await page.locator(`#${id} details tbody tr`).count()
    assert.ok(rows > 1, `${id}: no table of numbers`)
    assert.match(await page.locator(`#${id} figcaption`).innerText(), /\d+ (readings?|frames?); method/, id)
    done(`${id}: keyboard, SVG, table`)
  }
  assert.ok(!(await page.locator('main').innerText()).match(/\bNaN\b|undefined|\[object/), 'the page shows a value that is none')
  assert.deepEqual(noise, [])
  await close()
}

// The theme can be turned by hand, and the invented sample says what it is.
{
  const { page, close } = await open({ viewport: { width: 768, height: 900 }, colorScheme: 'light' })
  const ground = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor)
  const light = await ground()
  await page.getByRole('button', { name: 'Dark' }).click()
  assert.notEqual(await ground(), light)
  const data = JSON.parse(await page.locator('#provenit-document').textContent())
  assert.equal(await page.locator('header .invented').count(), data.invented ? 1 : 0)
  assert.equal(await page.locator('#questions tbody tr[id]').count(), data.questions.length)
  const proof = data.corrections.flatMap((c) => c.findings)
  assert.equal(await page.locator('#findings tbody tr').count(), data.findings.length - proof.length)
  const gains = page.locator('#correction table[role=table] tbody tr')
  assert.equal(3 * (await gains.count()), proof.length)
  for (const [i, verdict] of ['better', 'worse', 'better', 'no difference shown'].entries())
    assert.equal(await gains.nth(i).locator('.verdict').innerText(), verdict)
  for (const c of data.corrections) assert.ok((await page.locator('#correction').innerText()).includes(c.sha256))
  for (const hash of data.hashes) assert.ok((await page.locator('#provenance').innerText()).includes(hash.sha256))
  await close()
  done('theme, demonstration notice, every question and finding')
}

// A loan in which nothing has been read yet: every chart says why it is not there.
{
  const bare = join(out, 'bare.html')
  const whole = await readFile(file, 'utf8')
  const [, before, data, after] = whole.match(/^(.*id="provenit-document">)(.*?)(<\/script>.*)$/s)
  const kept = JSON.parse(data)
  const corrections = kept.corrections.map((c) => ({ ...c, findings: [] }))
  const doc = { ...kept, findings: [], runs: [], titles: [], corrections, room: null, invented: false, readings: { columns: [], rows: [] } }
  doc.questions = doc.questions.map((q) => ({ ...q, outcome: 'unanswered', finding: null, margin: null, missing: 'not_run' }))
  await writeFile(bare, before + JSON.stringify(doc).replaceAll('<', '\\u003c') + after)
  const { page, noise, close } = await open({ viewport: { width: 768, height: 900 } }, bare)
  assert.equal(await page.locator('.absent').count(), 6)
  assert.equal(await page.locator('figure.chart').count(), 0)
  for (const why of await page.locator('.absent p').allInnerTexts()) assert.match(why, /was not run/)
  assert.match(await page.locator('#correction').innerText(), /Not proved/)
  assert.equal(await page.locator('header .invented').count(), 0)
  assert.deepEqual(noise, [])
  await close()
  done('a loan without findings')
}

// What one will not see of a title: in sentences, over time by cause, and the worst frame as the display would show it.
{
  const { page, noise, close } = await open({ viewport: { width: 768, height: 900 } })
  const frame = page.getByRole('group', { name: 'At 0:25.083, frame 602' })
  const pictures = await frame.getByRole('img').all()
  assert.deepEqual(await Promise.all(pictures.map((i) => i.getAttribute('alt'))), [
    'As it is meant: frame 602',
    'As the display would show it: frame 602',
    'Difference, Delta E ITP: frame 602',
  ])
  for (const i of pictures) assert.equal(await i.evaluate((e) => e.complete && e.naturalWidth), 1)
  assert.equal(await page.getByRole('list', { name: 'Steps of the difference, Delta E ITP' }).getByRole('listitem').count(), 5)
  await page.getByText('Over 75\u00a0% of its frames the mean difference is above 1').waitFor()
  assert.deepEqual(noise, [])
  await close()
  done('the forecast of a title, with its worst frame in three pictures')
}

// On paper: no buttons, short tables open, and a PDF of a few pages.
{
  const { page, noise, close } = await open({ viewport: { width: 1280, height: 900 }, colorScheme: 'dark' })
  const path = join(out, 'print.pdf')
  await page.pdf({ path, preferCSSPageSize: true })
  assert.ok(statSync(path).size > 20000)
  const pages = (await readFile(path, 'latin1')).match(/\/Type\s*\/Page\b/g)?.length ?? 0
  assert.ok(pages >= 4 && pages <= 40, `${pages} pages`)
  await page.emulateMedia({ media: 'print' })
  assert.equal(await page.locator('button:visible').count(), 0)
  assert.equal(await page.evaluate(() => getComputedStyle(document.body).backgroundColor), 'rgb(255, 255, 255)')
  assert.deepEqual(noise, [])
  await close()
  done(`prints on ${pages} pages`)
}
await browser.close()
