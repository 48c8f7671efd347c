// How the page behaves in the room: undo, keys, side by side, and a server that went away.
import assert from 'node:assert/strict'
import { open } from './page.mjs'
import { freshBench, serve } from './server.mjs'
import * as steps from './steps.mjs'

export async function undo(page) {
  await steps.goTo(page, 'Loan')
  const questions = page.locator('[id^=question-]')
  await questions.first().waitFor()
  const before = await questions.count()
  await page.getByRole('button', { name: 'Add questions' }).click()
  const dialog = page.getByRole('dialog')
  await dialog.locator('input[value="hdr-mastering-basics"]').check()
  await dialog.getByRole('button', { name: 'Add questions' }).click()
  await page.waitForFunction((n) => document.querySelectorAll('[id^=question-]').length > n, before)
  const after = await questions.count()
  await page.locator('.notices').getByRole('button', { name: 'Undo' }).click()
  await page.waitForFunction((n) => document.querySelectorAll('[id^=question-]').length === n, before)
  await page.getByRole('button', { name: 'Redo' }).click()
  await page.waitForFunction((n) => document.querySelectorAll('[id^=question-]').length === n, after)
  await page.locator('body').click({ position: { x: 2, y: 2 } })
  await page.keyboard.press('Control+z')
  await page.waitForFunction((n) => document.querySelectorAll('[id^=question-]').length === n, before)
}

export async function keys(page) {
  const heading = () => page.locator('main h1').first().innerText()
  await page.locator('body').click({ position: { x: 2, y: 2 } })
  const links = page.getByRole('navigation', { name: 'Pages' }).getByRole('link')
  for (let i = 0; i < (await links.count()); ++i) {
    await page.keyboard.press(String(i + 1))
    await page.waitForFunction((n) => document.querySelectorAll('nav li a')[n]?.getAttribute('aria-current') === 'page', i)
    await page.waitForSelector('main h1, main .muted')
  }
  await page.keyboard.press('1')
  await page.waitForSelector('main .far')
  assert.ok(await page.evaluate(() => document.querySelector('main').contains(document.activeElement)), 'the focus goes to the page')
  const set = () => page.evaluate(() => ({ ...document.documentElement.dataset, dim: document.querySelector('.dim')?.style.opacity ?? '0' }))
  const before = await set()
  await page.keyboard.press('t')
  await page.keyboard.press('[')
  await page.keyboard.press('[')
  await page.keyboard.press('+')
  const after = await set()
  assert.notEqual(after.theme, before.theme)
  assert.notEqual(after.type, before.type)
  assert.ok(Math.abs(Number(after.dim) - 0.2) < 0.01, `the page is dimmed by ${after.dim}`)
  await page.reload()
  await page.waitForSelector('main .far')
  assert.deepEqual(await set(), after, 'the room is kept over a reload')
  for (const key of ['t', ']', ']', '+']) await page.keyboard.press(key)
  assert.deepEqual(await set(), before)
  await page.keyboard.press('?')
  await page.getByRole('dialog').getByText('Keyboard', { exact: true }).waitFor()
  await page.keyboard.press('Escape')
  await page.getByRole('dialog').waitFor({ state: 'hidden' })
  // From the head of the page to the first control by Tab alone.
  await page.reload()
  await page.waitForSelector('main .far')
  await page.keyboard.press('Tab')
  assert.equal(await page.evaluate(() => document.activeElement?.textContent), 'Skip to the page')
  await page.keyboard.press('Enter')
  assert.equal(await page.evaluate(() => document.activeElement?.id), 'main')
  assert.equal(await heading(), 'Tern 32')
}

export async function sideBySide(page, held, out) {
  await page.locator('header select').first().selectOption('new')
  await page.getByRole('heading', { name: 'A new loan' }).waitFor()
  await steps.describe(page, { name: 'Curlew 27', simulated: 'curlew-27', hours: 2, sets: ['claims-tern-32'] })
  await steps.planned(page)
  await steps.run(page, {})
  await steps.goTo(page, 'Findings')
  await page.getByRole('link', { name: 'Compare displays' }).click()
  await page.getByRole('heading', { name: 'Side by side' }).waitFor()
  await page.locator('main li .cell').first().waitFor()
  const words = await page.locator('main').innerText()
  assert.match(words, /(Tern 32|Curlew 27) is better/)
  assert.match(words, /less (Tern 32|Curlew 27): /)
  await held(page, out, 'desktop compare')
}

/** The server ends and comes back on its port: the page says so, and goes on by itself. */
export async function comesBack(browser, provenit, out) {
  const bench = freshBench(out, 'again')
  const first = await serve(provenit, bench)
  const { page, noise, deafen, close } = await open(browser, first.link, 'desktop')
  await steps.createBench(page, 'Saltmarsh loans')
  await page.locator('[data-link=live]').waitFor()
  deafen(true)
  await first.stop('SIGKILL')
  await page.locator('[data-link=lost]').first().waitFor()
  const second = await serve(provenit, bench, first.port)
  await page.locator('[data-link=live]').waitFor({ timeout: 30_000 })
  deafen(false)
  await steps.describe(page, { name: 'Tern 32', simulated: 'tern-32', hours: 1, sets: ['claims-tern-32'] })
  await steps.planned(page)

  // Killed in the middle of a run: nothing taken is lost, and the page offers to go on.
  await steps.begin(page)
  deafen(true)
  await second.stop('SIGKILL')
  await page.locator('[data-link=lost]').first().waitFor()
  const third = await serve(provenit, bench, first.port)
  await page.locator('[data-link=live]').waitFor({ timeout: 30_000 })
  deafen(false)
  const { answered, resumed } = await steps.finish(page)
  assert.deepEqual(noise, [])
  await close()
  await third.stop()
  return { answered, resumed }
}
