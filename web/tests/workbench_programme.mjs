// node tests/workbench_programme.mjs PROVENIT OUTDIR [SIZE ...]: programmes, corrections and signals in Chromium, against the server that
// is shipped, on desktop, tablet and phone; accessible in both themes, quiet, and never wider than the screen.
import assert from 'node:assert/strict'
import { execFileSync } from 'node:child_process'
import { copyFileSync, mkdirSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { launch } from './browser.mjs'
import { held, open, SIZES } from './workbench/page.mjs'
import { freshBench, serve } from './workbench/server.mjs'

const [provenit, out, ...only] = process.argv.slice(2)
if (!provenit || !out) {
  console.error('usage: node tests/workbench_programme.mjs PROVENIT OUTDIR [SIZE ...]')
  process.exit(2)
}
mkdirSync(out, { recursive: true })
// Where a build has copied this folder, it says where the films are.
const media = process.env.PROVENIT_MEDIA || join(dirname(fileURLToPath(import.meta.url)), '../../tests/programme/media')
const browser = await launch()
let checks = 0
const done = (what) => console.log(`ok ${++checks} ${what}`)

/** A change as the page makes it. */
async function post(link, path, body) {
  const answer = await fetch(new URL(`api/1/${path}`, link), { method: 'POST', headers: { 'X-Provenit': '1', 'Content-Type': 'application/json' }, body: JSON.stringify(body) })
  assert.ok(answer.ok, `${path}: ${answer.status} ${await answer.clone().text()}`)
  return answer.json()
}
async function describe(link) {
  await post(link, 'bench', { title: 'Saltmarsh loans', evaluator: 'Saltmarsh Display Lab' })
  await post(link, 'displays', { name: 'Tern 32', technology: 'LCD, mini-LED', details: { simulated: 'tern-32', claimed_peak_cdm2: 1400 } })
  await post(link, 'instruments', { name: 'Meter A', kind: 'simulated' })
  await post(link, 'rooms', { name: 'Suite 2', surround_cdm2: 5 })
  await post(link, 'loans', { display: 1, instrument: 1, room: 1, hours: 4 })
  await post(link, 'loans/1/questions', { sets: ['claims-tern-32'] })
}

async function programme(page, size, name) {
  await page.goto(`${page.url().split('#')[0]}#/programme`)
  await page.getByRole('combobox', { name: 'Programme' }).waitFor()
  await page.getByRole('combobox', { name: 'Programme' }).selectOption({ label: 'shore.mp4' })
  await page.getByRole('heading', { name: 'Frame', exact: true }).waitFor()
  await held(page, out, name('programme file'))
  await page.getByRole('button', { name: 'Survey it' }).click()
  const line = page.getByRole('slider', { name: 'Light over time' })
  await line.waitFor({ timeout: 120_000 })
  await page.getByText(/^rank|frame \d+, scene \d+/).first().waitFor()
  await held(page, out, name('programme'))
  done(`${size}: a film was surveyed in the background`)

  // By keys alone: along, closer, all of it.
  await line.focus()
  const before = Number(await line.getAttribute('aria-valuenow'))
  await page.keyboard.press('Home')
  await page.keyboard.press('Shift+ArrowRight')
  await page.waitForFunction(() => document.querySelector('[role=slider][aria-valuenow="1"]'))
  await page.keyboard.press('ArrowUp')
  await page.keyboard.press('End')
  await page.waitForFunction(() => Number(document.querySelector('[role=slider]')?.getAttribute('aria-valuenow')) > 100)
  assert.ok(Number.isFinite(before))
  await page.keyboard.press('0')
  // A moment is one press away.
  await page.getByRole('listitem').getByRole('button', { name: /^1/ }).first().click()
  const frame = Number(await line.getAttribute('aria-valuenow'))
  assert.match(page.url(), new RegExp(`frame=${frame}`))
  done(`${size}: the time line moves by keys, moments by one press`)

  await page.getByRole('combobox', { name: /^Split with/ }).selectOption('false_colour')
  await page.getByLabel('Border').fill('35')
  await page.waitForFunction(() => [...document.querySelectorAll('.stage img')].every((i) => i.complete && i.naturalWidth > 0))
  await page.getByLabel('Column').fill('100')
  await page.getByLabel('Row').fill('90')
  await page.getByText('max(R,G,B)', { exact: true }).waitFor()
  await held(page, out, name('programme split'))
  await page.getByRole('combobox', { name: /^View/ }).selectOption('excursion')
  await page.getByText(/^above/).first().waitFor()
  for (const scope of ['Parade', 'Vectorscope', 'Histogram']) await page.getByRole('button', { name: scope, exact: true }).click()
  await page.waitForFunction(() => [...document.querySelectorAll('.scope img')].every((i) => i.complete && i.naturalWidth > 0))
  await page.locator('#scopes-title').scrollIntoViewIfNeeded()
  await held(page, out, name('programme scopes'))
  done(`${size}: split, probe, excursions, every scope`)
}

/** A job in two parts, of which one is done; the page follows the other. */
async function farm(page, folder, size, name) {
  await page.goto(`${page.url().split('#')[0]}#/programme`)
  const section = page.getByRole('region', { name: 'Render farm' })
  await section.getByText('shots', { exact: true }).waitFor()
  await section.getByText(/^2.parts$/).click()
  assert.equal(await section.getByRole('row').count(), 3)
  const bar = section.getByRole('progressbar', { name: 'shots' })
  assert.deepEqual([await bar.getAttribute('value'), await bar.getAttribute('max')], ['2', '4'])
  await section.scrollIntoViewIfNeeded()
  await held(page, out, name('programme farm'))
  execFileSync(provenit, ['farm', 'run', folder, '--json'])
  await section.getByText('All titles are done.').waitFor()
  done(`${size}: a job of the farm was followed to its end`)
}

async function correction(page, link, size, name) {
  await page.goto(`${page.url().split('#')[0]}#/correction`)
  await page.getByRole('heading', { name: 'Display model' }).waitFor()
  await held(page, out, name('correction empty'))
  await page.getByRole('button', { name: 'Read what a model needs' }).click()
  const start = page.getByRole('button', { name: 'Start reading' })
  assert.ok(await start.isDisabled(), 'starts before the cautions are read')
  await page.getByLabel('Minutes of measuring').fill('5')
  await page.getByLabel('I have read these cautions.').check()
  await start.click()
  await page.getByText('Readings it has not seen, mean').waitFor({ timeout: 240_000 })
  await page.getByLabel('Nodes along an axis').fill('9')
  await page.getByRole('button', { name: 'Solve', exact: true }).click()
  await page.getByRole('button', { name: 'Prove', exact: true }).click({ timeout: 60_000 })
  await page.getByLabel('Unseen colours').fill('16')
  await page.getByLabel('I have read these cautions.').check()
  await page.getByRole('button', { name: 'Start reading' }).click()
  await page.getByText('Every colour, without and with the correction').first().waitFor({ timeout: 120_000 })
  await held(page, out, name('correction'))
  done(`${size}: model read, table solved and proved`)

  await page.getByRole('button', { name: 'White balance', exact: true }).click()
  await page.getByRole('button', { name: 'Begin', exact: true }).click()
  await page.getByLabel('I have read these cautions.').check()
  await page.getByRole('button', { name: 'Start reading' }).click()
  await page.getByText(/Within tolerance|Undecided|Out of tolerance/).first().waitFor({ timeout: 120_000 })
  await page.waitForTimeout(300)
  await held(page, out, name('balance'))
  done(`${size}: the white was balanced`)
}

/** Black and windows come from the command beside the server, the probes from the page; then the title and a frame of it. */
async function forecast(page, bench, size, name) {
  execFileSync(provenit, ['run', bench, '--procedure', 'black_level', '--procedure', 'window_peak', '--json'])
  await page.goto(`${page.url().split('#')[0]}#/programme`)
  await page.getByRole('combobox', { name: 'Programme' }).selectOption('s1')
  const section = page.getByRole('region', { name: /^What Tern 32 does to it/ })
  await section.getByRole('button', { name: 'Make the forecast' }).click()
  await section.getByRole('button', { name: 'Read what it needs' }).click()
  const start = page.getByRole('button', { name: 'Start reading' })
  assert.ok(await start.isDisabled(), 'starts before the cautions are read')
  await page.getByLabel('I have read these cautions.').check()
  await start.click()
  await section.getByText(/^Made for a white of/).waitFor({ timeout: 240_000 })
  await section.getByText('Nobody has looked yet whether it holds: read the eye check.').waitFor()
  const moment = section.getByRole('listitem').getByRole('button').first()
  assert.match(await moment.textContent(), /\d+\.\d\d.*to/)
  await moment.click()
  assert.equal(await moment.getAttribute('aria-pressed'), 'true')
  const frame = page.getByRole('region', { name: 'This frame on the display' })
  await frame.getByRole('row', { name: /^Mean Delta E ITP \d/ }).waitFor()
  assert.equal(await frame.getByRole('row').count(), 9)
  await page.waitForFunction(() => {
    const three = [...document.querySelectorAll('.three img')]
    return three.length === 3 && three.every((i) => i.complete && i.naturalWidth > 0)
  })
  await frame.scrollIntoViewIfNeeded()
  await held(page, out, name('forecast'))
  done(`${size}: the display was put together with the title, and a frame shown as it would be`)
}

async function signals(page, size, name) {
  await page.goto(`${page.url().split('#')[0]}#/signals`)
  await page.getByRole('navigation', { name: 'Test pictures' }).getByText(/^\d+.pictures$/).waitFor()
  await page.getByRole('searchbox').fill('zone plate')
  await page.getByRole('navigation', { name: 'Test pictures' }).getByRole('button').first().click()
  await page.waitForFunction(() => [...document.querySelectorAll('.look img')].some((i) => i.complete && i.naturalWidth > 0))
  await held(page, out, name('signals'))
  await page.getByLabel('Width, pixels').fill('640')
  await page.getByLabel('Height, pixels').fill('360')
  await page.getByRole('button', { name: 'Write the file' }).click()
  await page.getByText(/written into/).waitFor()
  await page.getByLabel('File', { exact: true }).fill('plate.mkv')
  await page.getByLabel('Video frames for each frame').fill('5')
  await page.getByRole('button', { name: 'Write the file' }).click()
  await page.getByText(/plate\.mkv written into/).waitFor()
  await held(page, out, name('signals clip'))
  await page.getByRole('button', { name: 'Show full screen' }).click()
  const begin = page.getByRole('button', { name: 'Open the page' })
  assert.ok(await begin.isDisabled(), 'shows before the cautions are read')
  await page.getByLabel('I have read these cautions.').check()
  await begin.click()
  await page.getByText('Waiting for the page').waitFor()
  await held(page, out, name('signals waiting'))
  await page.getByRole('button', { name: 'End', exact: true }).click()
  await page.getByText('Waiting for the page').waitFor({ state: 'detached' })
  done(`${size}: a test picture was looked at, written as a frame and as a clip, and offered to the screen`)
}

for (const size of only.length > 0 ? only : Object.keys(SIZES)) {
  const bench = freshBench(out, size)
  const films = join(dirname(bench), 'films')
  mkdirSync(films)
  copyFileSync(join(media, 'hdr10-av1.mp4'), join(films, 'shore.mp4'))
  const [job, shots] = [join(dirname(bench), 'job'), join(dirname(bench), 'shots')]
  mkdirSync(shots)
  for (let i = 1; i <= 4; ++i) copyFileSync(join(media, 'colors_hdr_rec2020.avif'), join(shots, `${i}.avif`))
  execFileSync(provenit, ['farm', 'plan', job, shots, '--parts', '2', '--json'])
  execFileSync(provenit, ['farm', 'part', job, '1', '1'])
  const server = await serve(provenit, bench, 0, ['--programmes', films, '--farm', job])
  await describe(server.link)
  const { page, noise, close } = await open(browser, server.link, size)
  page.setDefaultTimeout(120_000)
  const name = (what) => `${size} ${what}`
  try {
    await programme(page, size, name)
    await farm(page, job, size, name)
    await correction(page, server.link, size, name)
    if (size !== 'tablet') await forecast(page, bench, size, name)
    await signals(page, size, name)
    assert.deepEqual(noise, [], `${size}: the console is not quiet`)
  } catch (error) {
    await page.screenshot({ path: `${out}/failed-${size}.png`, fullPage: true }).catch(() => {})
    console.error(await page.locator('.notices').innerText().catch(() => ''), noise)
    throw error
  } finally {
    await close()
    await server.stop()
  }
}
await browser.close()
