// node tests/workbench.mjs PROVENIT OUTDIR [SIZE ...]: the whole way of a loan in Chromium, against the server that is shipped,
// on desktop, tablet and phone; every page accessible in both themes, quiet, and never wider than the screen.
import assert from 'node:assert/strict'
import { mkdirSync } from 'node:fs'
import { launch } from './browser.mjs'
import * as manners from './workbench/manners.mjs'
import { held, open, SIZES } from './workbench/page.mjs'
import { freshBench, serve } from './workbench/server.mjs'
import * as steps from './workbench/steps.mjs'

const [provenit, out, ...only] = process.argv.slice(2)
if (!provenit || !out) {
  console.error('usage: node tests/workbench.mjs PROVENIT OUTDIR [SIZE ...]')
  process.exit(2)
}
mkdirSync(out, { recursive: true })
const browser = await launch()
let checks = 0
const done = (what) => console.log(`ok ${++checks} ${what}`)

for (const size of only.length > 0 ? only : Object.keys(SIZES)) {
  const server = await serve(provenit, freshBench(out, size))
  const { page, noise, close } = await open(browser, server.link, size)
  page.setDefaultTimeout(120_000)
  const name = (what) => `${size} ${what}`
  try {
    await held(page, out, name('start'))
    await steps.createBench(page, 'Saltmarsh loans')
    await held(page, out, name('describe'))
    await steps.describe(page, { name: 'Tern 32', simulated: 'tern-32', technology: 'LCD, mini-LED', hours: 4, sets: ['claims-tern-32'] })
    const questions = await steps.planned(page)
    await held(page, out, name('planned'))
    done(`${size}: bench made, loan described, ${questions} questions planned`)

    const { answered, resumed } = await steps.run(page, { press: size === 'phone' ? 'Skip this procedure' : 'Pause' })
    await page.waitForTimeout(400)
    await held(page, out, name('loan'))
    done(`${size}: the plan was run, ${answered} questions answered, resumed ${resumed} times`)

    await steps.goTo(page, 'Findings')
    await page.waitForTimeout(300)
    await held(page, out, name('findings'))
    const findings = await steps.findings(page)
    await held(page, out, name('finding'))
    await steps.walk(page, size === 'desktop')
    done(`${size}: ${findings} findings, each with chart, interval, method, source and readings`)

    await steps.goTo(page, 'Report')
    await steps.report(page, out)
    await held(page, out, name('report'))
    done(`${size}: report chosen, previewed, published; charts saved for article and 16:9`)

    await manners.undo(page)
    done(`${size}: an edit is taken back and done again`)
    if (size === 'desktop') {
      await manners.keys(page)
      done('every page by its key; theme, light level and type size by keys')
      await manners.sideBySide(page, held, out)
      done('two displays side by side')
    }
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

if (only.length === 0) {
  const { answered, resumed } = await manners.comesBack(browser, provenit, out)
  done(`a page that lost its server comes back by itself; killed in mid-run, resumed ${resumed} times, ${answered} questions answered`)
}
await browser.close()
