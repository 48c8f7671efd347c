// Drives the page in headless Chromium: what stands on its screen against the codes that were to be sent.
import { spawn } from 'node:child_process'
import { createInterface } from 'node:readline'
import { request } from 'node:http'
import { writeFileSync } from 'node:fs'
import { inflateSync } from 'node:zlib'
import { chromium } from 'playwright-core'

const [driverPath, out] = process.argv.slice(2)
const ARGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync', '--force-color-profile=srgb']
let failures = 0
const check = (good, what) => {
  console.log(`${good ? 'ok  ' : 'FAIL'} ${what}`)
  if (!good) failures++
}

async function startDriver(...args) {
  const child = spawn(driverPath, args, { stdio: ['pipe', 'pipe', 'inherit'] })
  const lines = createInterface({ input: child.stdout })[Symbol.asyncIterator]()
  const address = (await lines.next()).value
  return {
    address,
    ask: async (what) => {
      child.stdin.write(JSON.stringify(what) + '\n')
      return JSON.parse((await lines.next()).value)
    },
    end: () => new Promise((done) => { child.on('exit', done); child.stdin.end() }),
  }
}

// A PNG of 8 bits without interlace, as screenshots are.
function decode(png) {
  let at = 8, width = 0, height = 0, channels = 0
  const parts = []
  while (at < png.length) {
    const length = png.readUInt32BE(at), type = png.toString('latin1', at + 4, at + 8), data = png.subarray(at + 8, at + 8 + length)
    if (type === 'IHDR') {
      width = data.readUInt32BE(0), height = data.readUInt32BE(4), channels = data[9] === 6 ? 4 : 3
      if (data[8] !== 8 || data[12] !== 0) throw new Error('not a screenshot')
    }
    if (type === 'IDAT') parts.push(data)
    at += length + 12
  }
  const raw = inflateSync(Buffer.concat(parts)), stride = width * channels, pixels = Buffer.alloc(stride * height)
  const paeth = (a, b, c) => {
    const p = a + b - c, pa = Math.abs(p - a), pb = Math.abs(p - b), pc = Math.abs(p - c)
    return pa <= pb && pa <= pc ? a : pb <= pc ? b : c
  }
  for (let y = 0; y < height; y++)
    for (let x = 0, filter = raw[y * (stride + 1)]; x < stride; x++) {
      const a = x >= channels ? pixels[y * stride + x - channels] : 0
      const b = y > 0 ? pixels[(y - 1) * stride + x] : 0
      const c = y > 0 && x >= channels ? pixels[(y - 1) * stride + x - channels] : 0
      const add = [0, a, b, (a + b) >> 1, paeth(a, b, c)][filter]
      pixels[y * stride + x] = (raw[y * (stride + 1) + 1 + x] + add) & 255
    }
  return { width, height, at: (x, y) => [...pixels.subarray(y * stride + x * channels, y * stride + x * channels + 3)] }
}

const encoding = { transfer: 'bt1886', container: 'bt709', bits: 8, range: 'full', nominal_peak_cdm2: 100 }
const signal = (patch, surround, geometry) => ({ signal: { encoding, patch, surround, geometry } })
const windowOf = (area) => ({ shape: 'window', area_fraction: area, columns: 0, rows: 0 })
const same = (a, b) => a.length === b.length && a.every((v, i) => v === b[i])

function withHost(address, host, origin) {
  const url = new URL(address)
  return new Promise((done, failed) =>
    request({ hostname: url.hostname, port: url.port, path: url.pathname, headers: { Host: host, ...(origin && { Origin: origin }) } },
      (reply) => { reply.resume(); done(reply.statusCode) }).on('error', failed).end())
}

const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: ARGS })
const driver = await startDriver()
const host = new URL(driver.address).host
check((await withHost(driver.address, host)) === 200, 'the page is served to its own name')
check((await withHost(driver.address, 'signals.example')) === 403, 'another host name is refused')
check((await withHost(driver.address, host, 'http://signals.example')) === 403, 'another origin is refused')
check((await withHost(`http://${host}/`, host)) === 404, 'the address without its secret gives nothing')

const size = { width: 1280, height: 720 }
const context = await browser.newContext({ viewport: size, screen: size, deviceScaleFactor: 1 })
const page = await context.newPage()
const outside = []
page.on('request', (r) => { if (!r.url().startsWith(driver.address) && !r.url().startsWith('data:')) outside.push(r.url()) })
page.on('pageerror', (e) => check(false, `no error in the page: ${e}`))
await page.goto(driver.address)
await page.waitForFunction(() => document.getElementById('state').textContent === 'Connected.')
check((await page.textContent('#cautions')).includes('A caution of the test.'), 'the cautions stand before the signals')
check(await page.isVisible('#card'), 'nothing is shown before Start')
writeFileSync(`${out}/start.png`, await page.screenshot())
await page.keyboard.press('Enter') // Start has the focus

const screen = async () => decode(await page.screenshot())
for (const codes of [[0, 0, 0], [1, 1, 1], [16, 17, 18], [127, 128, 129], [254, 3, 77], [255, 255, 255]]) {
  const shown = await driver.ask(signal(codes, [0, 0, 0], { shape: 'full_field', area_fraction: 1, columns: 0, rows: 0 }))
  const pixels = await screen()
  check(shown.ok && pixels.width === size.width && same(pixels.at(640, 360), codes) && same(pixels.at(0, 0), codes) &&
    same(pixels.at(1279, 719), codes), `full field ${codes}: on the screen as sent ${shown.text ?? ''}`)
}
await driver.ask(signal([200, 100, 50], [7, 8, 9], windowOf(0.25)))
let pixels = await screen()
check(same(pixels.at(320, 180), [200, 100, 50]) && same(pixels.at(319, 180), [7, 8, 9]) && same(pixels.at(959, 539), [200, 100, 50]) &&
  same(pixels.at(960, 539), [7, 8, 9]), 'a window begins and ends at its pixel')

let places = 0
for (const key of ['grey_steps', 'surface_chart', 'checkerboard', 'saturation_steps', 'near_black_steps', 'uniformity_boxes', 'window', 'luminance_ramp']) {
  const wanted = await driver.ask({ codes: key, frame: 0, size: [size.width, size.height] })
  if (!wanted.ok) { check(false, `${key}: ${wanted.text}`); continue }
  const shown = await driver.ask({ picture: key, frame: 0 })
  const pixels = await screen()
  const wrong = wanted.places.filter((p) => !same(pixels.at(p.x, p.y), p.code))
  places += wanted.places.length
  check(shown.ok && wrong.length === 0, `${key}: ${wanted.places.length} places as sent ${JSON.stringify(wrong[0] ?? '')} ${shown.text ?? ''}`)
}
check(places >= 100, `${places} places of pictures looked at`)
check(outside.length === 0, `nothing is asked of other servers ${outside}`)

await page.keyboard.press('ArrowRight')
check((await driver.ask({ wish: 3 })).wish === 0, 'Right asks for the next')
await page.keyboard.press('ArrowLeft')
check((await driver.ask({ wish: 3 })).wish === 1, 'Left asks for the one before')
await page.keyboard.press('Escape')
check((await driver.ask({ wish: 3 })).wish === 2, 'Escape leaves')
check(await page.isVisible('#card'), 'the card is back')
await page.focus('#start')
await page.keyboard.press('Enter')
await driver.ask(signal([9, 9, 9], [0, 0, 0], windowOf(0.1)))

// The page hangs: what it says never arrives.
await page.route('**/up', () => {})
let answer = await driver.ask(signal([10, 10, 10], [0, 0, 0], windowOf(0.1)))
check(!answer.ok && answer.code === 'timeout', `a page that says nothing: ${answer.text}`)
// The page is closed while a frame is on its way.
await page.route('**/frame*', () => {})
setTimeout(() => page.close(), 300)
answer = await driver.ask(signal([11, 11, 11], [0, 0, 0], windowOf(0.1)))
check(!answer.ok && answer.code === 'io', `a page that is closed half-way: ${answer.text}`)
await driver.end()

// A browser that alters what a page reads of its pixels.
const second = await startDriver('windowed')
const altered = await context.newPage()
await altered.addInitScript(() => {
  const real = CanvasRenderingContext2D.prototype.getImageData
  CanvasRenderingContext2D.prototype.getImageData = function (...a) { const d = real.apply(this, a); d.data[1] ^= 1; return d }
})
await altered.goto(second.address)
await altered.click('#start')
answer = await second.ask(signal([50, 60, 70], [0, 0, 0], windowOf(0.1)))
check(!answer.ok && answer.text.includes('changed the codes: 0 0 0 sent'), `altered codes: ${answer.text}`)
await altered.close()
// Two pixels of the screen for each of the page's.
const fineBrowser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: [...ARGS, '--force-device-scale-factor=2', '--window-size=640,360'] })
const fine = await (await fineBrowser.newContext({ viewport: null })).newPage()
await fine.goto(second.address)
await fine.click('#start')
answer = await second.ask(signal([50, 60, 70], [1, 2, 3], windowOf(0.25)))
pixels = decode(await fine.screenshot())
const ratio = await fine.evaluate(() => devicePixelRatio)
// Half of the width is the window; the side's rounding is signal/raster.h's.
const edge = [...Array(pixels.width).keys()].find((x) => same(pixels.at(x, pixels.height >> 1), [50, 60, 70]))
check(answer.ok && ratio === 2 && pixels.width === 2 * (await fine.evaluate(() => innerWidth)) &&
  Math.abs(edge - pixels.width / 4) <= 1 && same(pixels.at(edge - 1, pixels.height >> 1), [1, 2, 3]),
  `at a ratio of 2 one pixel is one of the screen's (${pixels.width} x ${pixels.height}, edge at ${edge}) ${answer.text ?? ''}`)
await second.end()
await fine.waitForFunction(() => document.getElementById('state').textContent !== 'Connected.')
check(await fine.isVisible('#card') && !(await fine.isVisible('#start')), 'when the program ends the page goes back to its card')
await fineBrowser.close()
await browser.close()
process.exit(failures === 0 ? 0 : 1)
