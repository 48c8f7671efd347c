// node tests/site.mjs SITE OUTDIR: the pages of a published site in Chromium, opened from their files.
import { AxeBuilder } from '@axe-core/playwright'
import assert from 'node:assert/strict'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'
import { launch, THEMES } from './browser.mjs'

const [site, out] = process.argv.slice(2)
if (!site || !out) {
  console.error('usage: node tests/site.mjs SITE OUTDIR')
  process.exit(2)
}
const browser = await launch()
let checks = 0
const done = (what) => console.log(`ok ${++checks} ${what}`)

async function open(name, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...options })
  const page = await context.newPage()
  const noise = []
  page.on('console', (m) => ['error', 'warning'].includes(m.type()) && noise.push(m.text()))
  page.on('pageerror', (e) => noise.push(String(e)))
  page.on('request', (r) => r.url().startsWith('file:') || noise.push(`fetches ${r.url()}`))
  await page.goto(pathToFileURL(resolve(join(site, name))).href)
  await page.waitForSelector('main')
  return { page, noise, close: () => context.close() }
}

const below = (folder) => readdirSync(join(site, folder)).filter((f) => f.endsWith('.html')).map((f) => `${folder}/${f}`)
// One page of each kind in every look; all others once.
const kinds = ['index.html', 'displays/tern-32.html', 'topics/light.html', below('pairs')[0], below('sets')[0], 'corrections.html', 'about.html']
for (const name of kinds)
  for (const colorScheme of THEMES)
    for (const width of [1280, 360]) {
      const where = `${name}, ${width} px, ${colorScheme}`
      const { page, noise, close } = await open(name, { viewport: { width, height: 900 }, colorScheme })
      await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)))
      const sideways = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)
      assert.ok(sideways <= 0, `${where}: scrolls sideways by ${sideways} px`)
      const { violations, passes } = await new AxeBuilder({ page }).options({ resultTypes: ['violations'] }).analyze()
      const grave = violations.filter((v) => ['serious', 'critical'].includes(v.impact))
      assert.deepEqual(grave.map((v) => `${v.id}: ${v.nodes[0]?.html}`), [], where)
      assert.ok(passes.length > 10, `axe checked little at ${where}`)
      assert.deepEqual(noise, [], where)
      if (colorScheme === 'light') await page.screenshot({ path: join(out, `${name.replaceAll(/\W+/g, '-')}-${width}.png`), fullPage: true })
      await close()
    }
done('one page of each kind, at desktop and phone width, light and dark: quiet, accessible, no sideways scroll')

const rest = [...below('displays'), ...below('topics'), ...below('pairs'), ...below('sets')].filter((n) => !kinds.includes(n))
for (const name of rest) {
  const { noise, close } = await open(name)
  assert.deepEqual(noise, [], name)
  await close()
}
done(`${rest.length} other pages open quietly from their files`)

{
  const { page, close } = await open('topics/light.html')
  const chart = page.locator('figure.chart').first()
  const drawing = chart.locator('.drawing')
  await drawing.focus()
  const first = await drawing.getAttribute('aria-valuetext')
  await page.keyboard.press('ArrowRight')
  const second = await drawing.getAttribute('aria-valuetext')
  assert.notEqual(first, second)
  await page.keyboard.press('End')
  const rows = await chart.locator('tbody tr').count()
  assert.equal(await drawing.getAttribute('aria-valuenow'), String(rows))
  const last = await chart.locator('tbody tr').last().locator('td').allTextContents()
  for (const cell of last) assert.ok((await drawing.getAttribute('aria-valuetext')).includes(cell), cell)
  assert.equal(await chart.locator('svg.wide .cursor').count(), 1)
  done('a chart is read by arrow keys, point by point as in its table')

  for (const link of await chart.locator('.save a').all()) {
    const href = await link.getAttribute('href')
    assert.ok(existsSync(join(site, 'topics', href)), href)
  }
  assert.equal(await chart.locator('.save a').count(), 4)
  done('its four files are there')
  await close()
}
{
  const { page, close } = await open('index.html')
  const names = () => page.locator('tbody th a').allTextContents()
  const before = await names()
  assert.ok(before.length >= 6)
  const column = page.getByRole('button', { name: 'Black' })
  await column.click()
  const values = async () =>
    (await page.locator('tbody tr').all()).length &&
    (await page.locator('tbody tr td:nth-child(4)').evaluateAll((cells) => cells.map((c) => Number(c.dataset.value))))
  const down = await values()
  assert.deepEqual(down, [...down].sort((a, b) => b - a))
  await column.click()
  const up = await values()
  assert.deepEqual(up, [...up].sort((a, b) => a - b))
  assert.equal(await page.locator('th[aria-sort="ascending"]').count(), 1)
  done('displays are sorted by a figure, both ways')
  const { display } = JSON.parse(readFileSync(join(site, 'published.json'), 'utf8')).corrections[0]
  await page.locator('tbody th a', { hasText: display }).first().click()
  await page.waitForSelector('.corrected s')
  assert.match(await page.locator('.corrected').textContent(), /was .* published .* is /)
  done('a display whose findings were corrected says so, with the old value')
  await close()
}
{
  const { page, close } = await open('displays/tern-32.html', { javaScriptEnabled: false })
  assert.ok(await page.locator('figure.chart svg.wide').first().isVisible())
  assert.ok((await page.locator('#findings ~ .scroll tbody tr').count()) > 10)
  assert.equal(await page.locator('.read:visible').count(), 0)
  done('without scripts the page is whole')
  await close()
}
{
  const { page, close } = await open('reports/tern-32.html')
  assert.ok((await page.locator('figure.chart').count()) > 2)
  done('the whole report of a loan opens from the site')
  await close()
}
await browser.close()
