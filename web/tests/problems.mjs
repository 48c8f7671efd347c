// node tests/problems.mjs FILE.html: opens the report in Chromium at every width and in both themes, and prints
// "CONSOLE n" (errors, warnings, requests) and "AXE n" (violations of level serious or above).
import { AxeBuilder } from '@axe-core/playwright'
import { resolve } from 'node:path'
import { pathToFileURL } from 'node:url'
import { launch, THEMES, WIDTHS } from './browser.mjs'

const browser = await launch()
let noise = 0
let grave = 0
for (const colorScheme of THEMES)
  for (const width of WIDTHS) {
    const context = await browser.newContext({ colorScheme, viewport: { width, height: 900 } })
    const page = await context.newPage()
    page.on('console', (m) => ['error', 'warning'].includes(m.type()) && noise++)
    page.on('pageerror', () => noise++)
    page.on('request', (r) => /^(file|data|blob):/.test(r.url()) || noise++)
    await page.goto(pathToFileURL(resolve(process.argv[2])).href)
    await page.waitForSelector('main')
    const { violations } = await new AxeBuilder({ page }).options({ resultTypes: ['violations'] }).analyze()
    grave += violations.filter((v) => ['serious', 'critical'].includes(v.impact)).length
    await context.close()
  }
await browser.close()
console.log(`CONSOLE ${noise}`)
console.log(`AXE ${grave}`)
