// node tests/site_paint.mjs SITE: how soon a page of the site shows something on a slow phone. From a plain web server (no
// compression) over 150 ms and 1.6 Mbit/s, on a processor slowed down four times, 360 px wide; the median of five fresh
// starts. Prints one figure a line, tab separated: name, value, unit, bar, "holds" or "falls short".
import { createReadStream, existsSync, readdirSync, statSync } from 'node:fs'
import { createServer } from 'node:http'
import { extname, join, normalize } from 'node:path'
import { launch } from './browser.mjs'

const [site] = process.argv.slice(2)
if (!site) {
  console.error('usage: node tests/site_paint.mjs SITE')
  process.exit(2)
}
const TYPES = { '.html': 'text/html; charset=utf-8', '.svg': 'image/svg+xml', '.png': 'image/png' }
const server = createServer((request, response) => {
  const path = join(site, normalize(decodeURIComponent(new URL(request.url, 'http://x').pathname)))
  if (!existsSync(path) || !statSync(path).isFile()) return response.writeHead(404).end()
  response.writeHead(200, { 'Content-Type': TYPES[extname(path)] ?? 'application/octet-stream', 'Content-Length': statSync(path).size })
  createReadStream(path).pipe(response)
}).listen(0, '127.0.0.1')
await new Promise((ready) => server.once('listening', ready))

const browser = await launch()
async function paint(name) {
  const context = await browser.newContext({ viewport: { width: 360, height: 740 }, deviceScaleFactor: 3, isMobile: true })
  const page = await context.newPage()
  const cdp = await context.newCDPSession(page)
  await cdp.send('Network.enable')
  await cdp.send('Network.emulateNetworkConditions', { offline: false, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 0.75e6 / 8 })
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: 4 })
  await page.goto(`http://127.0.0.1:${server.address().port}/${name}`, { waitUntil: 'load' })
  const ms = await page.evaluate(
    () =>
      new Promise((resolve) =>
        new PerformanceObserver((list) => {
          const seen = list.getEntries().find((e) => e.name === 'first-contentful-paint')
          if (seen) resolve(seen.startTime)
        }).observe({ type: 'paint', buffered: true }),
      ),
  )
  await context.close()
  return ms
}
const heaviest = (folder) =>
  readdirSync(join(site, folder))
    .map((f) => `${folder}/${f}`)
    .sort((a, b) => statSync(join(site, b)).size - statSync(join(site, a)).size)[0]
for (const [what, name] of [
  ['first', 'index.html'],
  ['display', heaviest('displays')],
  ['topic', heaviest('topics')],
]) {
  const runs = []
  for (let i = 0; i < 5; ++i) runs.push(await paint(name))
  const ms = runs.sort((a, b) => a - b)[2]
  console.log([`site_${what}_page_paint`, ms.toFixed(0), 'ms', '<= 1000', ms <= 1000 ? 'holds' : 'falls short'].join('\t'))
  console.log([`site_${what}_page_weight`, (statSync(join(site, name)).size / 1000).toFixed(0), 'kB', '', 'holds'].join('\t'))
}
await browser.close()
server.close()
