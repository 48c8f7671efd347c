// npm run shots -- FILE.html OUTDIR [WIDTH ...]: the whole page in both themes and at each width, and as a PDF.
import { mkdirSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'
import { launch, THEMES, WIDTHS } from './browser.mjs'

const [file, out, ...widths] = process.argv.slice(2)
if (!file || !out) {
  console.error('usage: npm run shots -- FILE.html OUTDIR [WIDTH ...]')
  process.exit(2)
}
mkdirSync(out, { recursive: true })
const browser = await launch()
for (const colorScheme of THEMES)
  for (const width of widths.length > 0 ? widths.map(Number) : WIDTHS) {
    const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme })
    const page = await context.newPage()
    await page.goto(pathToFileURL(resolve(file)).href)
    await page.screenshot({ path: join(out, `${width}-${colorScheme}.png`), fullPage: true })
    if (width === WIDTHS[0] && colorScheme === 'light') await page.pdf({ path: join(out, 'print.pdf'), preferCSSPageSize: true })
    await context.close()
  }
await browser.close()
