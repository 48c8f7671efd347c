// The page that shows frames: one pixel of a frame for one pixel of the screen, codes as they are sent. It says when a
// frame is up, and what it has read back of it.
const canvas = document.getElementById('picture')
const card = document.getElementById('card')
const state = document.getElementById('state')
const start = document.getElementById('start')
const page = crypto.getRandomValues(new Uint32Array(4)).join('-')
// Software drawing, opaque, no conversion: what is put in is read back as it is.
const pen = canvas.getContext('2d', { alpha: false, colorSpace: 'srgb', willReadFrequently: true })
const GRID = 9 // places read back along each side

let size = { width: 0, height: 0 } // of the screen, in its own pixels
let shown = 0 // number of the frame that is up or on its way
let running = false

const tell = (what) => navigator.sendBeacon(`${what}?page=${page}`)
const painted = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))

const isFullScreen = () =>
  document.fullscreenElement !== null ||
  (size.width === Math.round(screen.width * devicePixelRatio) && size.height === Math.round(screen.height * devicePixelRatio))

function isOneToOne() {
  const box = canvas.getBoundingClientRect()
  const near = (a, b) => Math.abs(a - b) < 0.01
  return near(box.width * devicePixelRatio, canvas.width) && near(box.height * devicePixelRatio, canvas.height) &&
    near(box.left, 0) && near(box.top, 0) && (visualViewport?.scale ?? 1) === 1
}

function readBack() {
  const places = []
  for (let j = 0; j < GRID; j++)
    for (let i = 0; i < GRID; i++) {
      const x = Math.floor(((i + 0.5) * canvas.width) / GRID), y = Math.floor(((j + 0.5) * canvas.height) / GRID)
      places.push([x, y, ...pen.getImageData(x, y, 1, 1).data.slice(0, 3)])
    }
  return places
}

async function draw(number) {
  const { width, height } = size
  const reply = await fetch(`frame?number=${number}&width=${width}&height=${height}`)
  if (reply.status === 404) return false // another frame is on its way
  if (!reply.ok) throw new Error(await reply.text())
  const pixels = new Uint8ClampedArray(await reply.arrayBuffer())
  if (number !== shown || !running) return false
  canvas.width = width
  canvas.height = height
  pen.putImageData(new ImageData(pixels, width, height), 0, 0)
  return true
}

async function put(number, title) {
  shown = number
  let trouble = ''
  try {
    if (!(await draw(number))) return
    canvas.setAttribute('aria-label', title)
    await painted()
  } catch (error) {
    trouble = String(error?.message ?? error)
  }
  const answer = {
    page, number, trouble, width: canvas.width, height: canvas.height,
    full_screen: isFullScreen(), one_to_one: isOneToOne(), read_back: trouble ? [] : readBack(),
  }
  await fetch('up', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(answer) })
}

function black() {
  pen.fillStyle = '#000'
  pen.fillRect(0, 0, canvas.width, canvas.height)
  canvas.setAttribute('aria-label', 'black')
}

function leave(text, again = true) {
  const was = running
  running = false
  black()
  document.body.classList.remove('showing')
  card.hidden = false
  start.hidden = !again
  state.textContent = text
  if (again) start.focus()
  if (was && again) tell('leave')
  if (document.fullscreenElement) document.exitFullscreen()
}

async function begin() {
  try {
    await document.documentElement.requestFullscreen({ navigationUI: 'hide' })
  } catch {
    state.textContent = 'This browser refuses full screen: use its own key for it (often F11).'
  }
  running = true
  card.hidden = true
  document.body.classList.add('showing')
  await painted()
  tell('start')
}

new ResizeObserver(([entry]) => {
  const box = entry.devicePixelContentBoxSize?.[0]
  size = box
    ? { width: box.inlineSize, height: box.blockSize }
    : { width: Math.round(innerWidth * devicePixelRatio), height: Math.round(innerHeight * devicePixelRatio) }
  if (running && shown > 0 && (size.width !== canvas.width || size.height !== canvas.height)) put(shown, canvas.ariaLabel)
}).observe(canvas, { box: 'device-pixel-content-box' })

start.addEventListener('click', begin)
document.addEventListener('fullscreenchange', () => {
  if (!document.fullscreenElement && running) leave('Left. Start goes on with what is sent next.')
})
document.addEventListener('keydown', (event) => {
  if (!running || event.repeat) return
  if (event.key === 'Escape') leave('Left. Start goes on with what is sent next.')
  else if (event.key === 'ArrowRight' || event.key === ' ') tell('next')
  else if (event.key === 'ArrowLeft') tell('previous')
})
addEventListener('pagehide', () => tell('closed'))

const list = document.getElementById('cautions')
for (const text of await (await fetch('cautions')).json()) {
  const item = document.createElement('li')
  item.textContent = text
  list.append(item)
}
const events = new EventSource(`events?page=${page}`)
events.onopen = () => { state.textContent = 'Connected.' }
events.onmessage = (message) => {
  const { number, title } = JSON.parse(message.data)
  if (running) put(number, title)
}
events.addEventListener('over', () => {
  events.close()
  leave('The session is over, or another page has taken over.', false)
})
events.onerror = () => {
  if (events.readyState === EventSource.CLOSED || running) {
    events.close()
    leave('The program that sends the signals has stopped. Load the page anew once it runs again.', false)
  }
}
start.focus()
