// The whole way of a loan, as an evaluator goes it in the page. Each step ends where the next begins.
import assert from 'node:assert/strict'
import { readFileSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'

const main = (page) => page.locator('main')
const runPanel = (page) => page.locator('section[aria-labelledby=run-heading]')
export const goTo = async (page, name) => {
  await page.getByRole('navigation', { name: 'Pages' }).getByRole('link', { name }).click()
  await page.waitForSelector('main h1')
}

export async function createBench(page, title) {
  await page.getByRole('heading', { name: 'A new bench' }).waitFor()
  await page.getByRole('button', { name: 'Make the bench' }).click()
  assert.equal(await page.getByText('Give it a name.').count(), 2, 'an empty form says what is missing')
  await page.getByLabel('Title').fill(title)
  await page.getByLabel('Evaluated by').fill('Saltmarsh Display Lab')
  await page.getByRole('button', { name: 'Make the bench' }).click()
  await page.getByRole('heading', { name: 'A new loan' }).waitFor()
}

export async function describe(page, { name, simulated, hours, sets, technology = '' }) {
  const display = page.getByRole('group', { name: 'Display', exact: true })
  await display.getByLabel('Name').fill(name)
  if (technology !== '') await display.getByLabel('Technology').fill(technology)
  await display.getByLabel('Simulated display').selectOption(simulated)
  const instrument = page.getByRole('group', { name: 'Instrument', exact: true })
  if ((await instrument.getByLabel('Name').inputValue()) === '') {
    assert.equal(await instrument.getByLabel('Kind').inputValue(), 'simulated', 'a simulated display brings the simulated meter')
    await instrument.getByLabel('Name').fill('Meter A')
    await instrument.getByLabel('Luminance, expanded, %').fill('2')
    const room = page.getByRole('group', { name: 'Room', exact: true })
    await room.getByLabel('Name').fill('Suite 2')
    await room.getByLabel('Surround, cd/m²').fill('5')
  }
  await page.getByRole('group', { name: 'Loan', exact: true }).getByLabel('Hours from now').fill(String(hours))
  await page.getByLabel('What it is for').fill('Is it fit for grading a documentary?')
  for (const set of sets) await page.locator(`input[value="${set}"]`).check()
  await page.getByRole('button', { name: 'Save and plan' }).click()
  await page.getByRole('heading', { name, exact: true }).waitFor()
  await page.getByRole('heading', { name: 'Plan', exact: true }).waitFor()
}

export async function planned(page) {
  await page.locator('section[aria-labelledby=plan-heading] ol li').first().waitFor()
  assert.match(await main(page).innerText(), /What an hour more would buy/)
  const questions = await page.locator('[id^=question-]').count()
  assert.ok(questions > 3, `${questions} questions`)
  assert.match(await main(page).innerText(), new RegExp(`0\\s+of ${questions}.questions answered`))
  assert.equal(await page.locator('section ol li button').count(), questions, 'the ledger has a cell for each question')
  return questions
}

async function cautionsRead(page, button) {
  const dialog = page.getByRole('dialog')
  await dialog.locator('ul li').first().waitFor()
  const start = dialog.getByRole('button', { name: button })
  const read = dialog.getByLabel('I have read these cautions.')
  if (!(await read.isChecked())) assert.ok(await start.isDisabled(), 'nothing starts before the cautions were read')
  await read.check()
  await start.click()
  await dialog.waitFor({ state: 'hidden' })
}

/** Starts the plan, and ends with the first reading. */
export async function begin(page) {
  const panel = runPanel(page)
  await panel.getByRole('button', { name: 'Start', exact: true }).click()
  await cautionsRead(page, 'Start reading')
  await panel.locator('.number').first().waitFor({ timeout: 60_000 })
  assert.match(await panel.innerText(), /cd\/m²/)
}

/** Lets a plan that was begun come to its end, resumes it where it was paused. Gives how many questions are answered and how
 *  often it had to be resumed. */
export async function finish(page) {
  const panel = runPanel(page)
  const finished = panel.getByText('Every run of the plan is finished.')
  const resume = panel.getByRole('button', { name: 'Resume' })
  let resumed = 0
  for (let looks = 0; ; ++looks) {
    assert.ok(looks < 40, 'the run does not come to an end')
    await finished.or(resume).first().waitFor({ timeout: 400_000 })
    if ((await finished.count()) > 0) break
    // Paused so late that it came to its end: nothing is left to resume.
    if (!(await resume.click({ timeout: 10_000 }).then(() => true, () => false))) continue
    await cautionsRead(page, 'Go on reading')
    await resume.waitFor({ state: 'hidden' })
    resumed += 1
  }
  // What the last procedures found is on the page a moment after the run's end.
  const shown = () => document.querySelectorAll('a.found').length > 5 && Number(document.querySelector('.far b').innerText) > 5
  await page.waitForFunction(shown, undefined, { timeout: 120_000 })
  return { answered: Number(await page.locator('.far b').innerText()), resumed }
}

/** Runs the plan to its end; if asked, pauses or skips on the way and goes on. A simulated plan is quick: it may be over
 *  before the press arrives. */
export async function run(page, { press }) {
  await begin(page)
  if (press) await runPanel(page).getByRole('button', { name: press }).click({ timeout: 5000 }).catch(() => {})
  return finish(page)
}

export async function findings(page) {
  const rows = page.getByRole('list', { name: 'List of findings' }).getByRole('link')
  await rows.first().waitFor()
  const count = await rows.count()
  assert.ok(count > 5, `${count} findings`)
  await rows.filter({ hasText: 'Peak luminance' }).first().click()
  await page.locator('#chart-window svg').waitFor()
  await page.locator('#chart-readings svg').waitFor()
  const words = await main(page).innerText()
  for (const what of [/95.% interval/, /Method/, /Sources/, /Readings behind it/]) assert.match(words, what)
  assert.ok((await page.locator('#chart-readings details tbody tr').count()) > 0, 'its readings are there')
  return count
}

/** Search and the keys that walk from finding to finding; on a phone the list hides behind the finding. */
export async function walk(page, wide) {
  const before = await page.locator('#finding-title').innerText()
  await page.locator('body').click({ position: { x: 2, y: 2 } })
  await page.keyboard.press('n')
  await page.waitForFunction((t) => location.hash.includes('/findings/') && document.querySelector('.big .number') !== null && t !== '', before)
  if (!wide) return
  await page.keyboard.press('/')
  await page.keyboard.type('black')
  const rows = page.getByRole('list', { name: 'List of findings' }).getByRole('link')
  await page.waitForFunction(() => /\d+.findings?|of \d+/.test(document.querySelector('.find [role=status]')?.textContent ?? ''))
  for (const row of await rows.allInnerTexts()) assert.match(row, /black/i)
  await page.getByRole('searchbox').fill('')
}

/** Size of a PNG, from its header. */
const pngSize = (path) => {
  const bytes = readFileSync(path)
  assert.equal(bytes.toString('latin1', 1, 4), 'PNG')
  return { width: bytes.readUInt32BE(16), height: bytes.readUInt32BE(20) }
}

async function saved(page, out, press) {
  const [download] = await Promise.all([page.waitForEvent('download'), press()])
  const path = join(out, download.suggestedFilename())
  await download.saveAs(path)
  return path
}

/** The button asks for the report's own print; what comes of it is a PDF of several pages. */
async function printed(page, html) {
  const frame = page.frames().find((f) => f.parentFrame() !== null)
  await frame.evaluate(() => {
    const print = window.print.bind(window)
    window.print = () => {
      document.documentElement.dataset.printed = 'asked'
      print() // a sandbox that forbids it says so in the console, which must be quiet
    }
  })
  await page.getByRole('button', { name: 'Print, or save as PDF' }).click()
  await frame.waitForSelector('html[data-printed=asked]', { state: 'attached' })
  const alone = await page.context().newPage()
  await alone.goto(pathToFileURL(html).href)
  await alone.locator('h1').waitFor()
  const pdf = (await alone.pdf({ path: html.replace(/\.html$/, '.pdf'), preferCSSPageSize: true })).toString('latin1')
  assert.ok(pdf.startsWith('%PDF'))
  assert.ok((pdf.match(/\/Type\s*\/Page\b/g) ?? []).length > 2, 'the report is several pages long')
  await alone.close()
}

export async function report(page, out) {
  await page.getByRole('heading', { name: 'Preview' }).waitFor()
  const frame = page.frameLocator('iframe[title="Preview of the report"]')
  await frame.locator('h1').waitFor()
  await page.getByLabel('Display, room and loan').uncheck()
  await frame.getByText('Left out of this report by its author').waitFor()
  assert.equal(await frame.locator('#place').count(), 0)

  const html = await saved(page, out, () => page.getByRole('link', { name: 'Save the page (HTML)' }).click())
  const text = await readFile(html, 'utf8')
  assert.match(text, /provenit-report\/1/)
  assert.match(text, /"without":\["place"\]/)
  await printed(page, html)
  const zip = await saved(page, out, () => page.getByRole('link', { name: 'Save the data package (ZIP)' }).click())
  assert.equal((await readFile(zip)).toString('latin1', 0, 2), 'PK')
  await page.getByRole('button', { name: 'Write both beside the bench' }).click()
  await page.getByText('Written into the folder').first().waitFor()

  const chart = page.locator('#chart-window')
  const width = await chart.locator('svg').getAttribute('viewBox')
  for (const [shape, kind] of [['16:9', 'PNG'], ['16:9', 'SVG'], ['Article width', 'PNG'], ['Article width', 'SVG']]) {
    await chart.locator('summary', { hasText: 'Save' }).click()
    const path = await saved(page, out, () => chart.getByRole('button', { name: `${shape}, ${kind}` }).click())
    if (kind === 'PNG') {
      const size = pngSize(path)
      if (shape === '16:9') assert.deepEqual(size, { width: 1920, height: 1080 })
      else assert.equal(size.width, 1600)
    } else {
      const svg = await readFile(path, 'utf8')
      for (const foreign of ['var(', 'light-dark', 'class=', 'NaN', 'undefined']) assert.ok(!svg.includes(foreign), `${path} has ${foreign}`)
      assert.match(svg, /fill="rgb\(251, 251, 251\)"|fill="rgb\(255, 255, 255\)"/, 'drawn on white whatever the theme')
    }
  }
  assert.equal(await chart.locator('svg').getAttribute('viewBox'), width, 'saving leaves the chart as it was')
}
