// What every page of the workbench is held against: quiet, accessible in both themes, no sideways scroll.
import { AxeBuilder } from '@axe-core/playwright'
import assert from 'node:assert/strict'
import { join } from 'node:path'

export const SIZES = { desktop: { width: 1440, height: 900 }, tablet: { width: 820, height: 1180 }, phone: { width: 390, height: 844 } }

export async function open(browser, link, size, theme = 'dark') {
  const context = await browser.newContext({ viewport: SIZES[size], acceptDownloads: true, hasTouch: size !== 'desktop' })
  await context.addInitScript((t) => {
    if (window === window.top && localStorage.getItem('provenit-room') === null) localStorage.setItem('provenit-room', JSON.stringify({ theme: t }))
  }, theme)
  // A warning says who gave it.
  await context.addInitScript(() => {
    const warn = console.warn
    console.warn = (...said) => warn(...said, new Error().stack)
  })
  const page = await context.newPage()
  const noise = []
  /** While the server is down on purpose, failed requests are no fault of the page. */
  let deaf = false
  page.on('console', (m) => ['error', 'warning'].includes(m.type()) && !deaf && noise.push(`${m.text()} (${m.location().url})`))
  page.on('pageerror', (e) => noise.push(String(e.stack ?? e)))
  const home = new URL(link).origin
  page.on('request', (r) => r.url().startsWith(home) || /^(blob|data):/.test(r.url()) || noise.push(`fetches ${r.url()}`))
  await page.goto(link)
  await page.waitForSelector('main h1')
  return { page, noise, deafen: (on) => (deaf = on), close: () => context.close() }
}

/** Number of violations of level serious or above, which must be none. */
export async function accessible(page, where) {
  const { violations, passes } = await new AxeBuilder({ page }).exclude('iframe').options({ resultTypes: ['violations'] }).analyze()
  const grave = violations.filter((v) => ['serious', 'critical'].includes(v.impact))
  assert.deepEqual(grave.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(' | ')}`), [], where)
  assert.ok(passes.length > 10, `axe checked little at ${where}`)
  return grave.length
}

export async function upright(page, where) {
  const sideways = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)
  assert.ok(sideways <= 0, `${where} scrolls sideways by ${sideways} px`)
  const words = await page.locator('main').innerText()
  assert.ok(!/\bNaN\b|undefined|\[object|Infinity/.test(words), `${where} shows a value that is none: ${words.match(/.{30}(NaN|undefined|\[object|Infinity).{30}/s)?.[0]}`)
}

/** The page as it stands, in both themes; leaves it dark. */
export async function held(page, out, where) {
  for (const theme of ['light', 'dark']) {
    await page.evaluate((t) => (document.documentElement.dataset.theme = t), theme)
    await page.waitForTimeout(120)
    await accessible(page, `${where}, ${theme}`)
    await upright(page, `${where}, ${theme}`)
    await page.screenshot({ path: join(out, `${where.replaceAll(/[ ,]+/g, '-')}-${theme}.png`) })
  }
}
