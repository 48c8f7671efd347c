'use strict'
// Pages work without this. With it charts are read by pointer and arrow keys, and tables sorted and filtered.
for (const figure of document.querySelectorAll('figure.chart')) {
  const drawing = figure.querySelector('.drawing')
  const read = figure.querySelector('.read')
  const table = figure.querySelector('table')
  const heads = [...table.querySelectorAll('thead th')].map((h) => h.textContent)
  const rows = [...table.querySelectorAll('tbody tr')]
  if (rows.length === 0) continue
  const say = (i) =>
    [...rows[i].children]
      .map((cell, k) => (cell.textContent && k > 0 ? `${heads[k]}: ${cell.textContent}` : cell.textContent))
      .filter(Boolean)
      .join('; ')
  let at = -1
  const spotsOf = (svg) => svg.dataset.spots.split(' ').map((s) => s.split(',').map(Number))
  function show(i) {
    at = i
    for (const svg of drawing.querySelectorAll('svg')) {
      svg.querySelector('.cursor')?.remove()
      const spot = spotsOf(svg)[i]
      if (!spot) continue
      const ring = document.createElementNS('http://www.w3.org/2000/svg', 'circle')
      ring.setAttribute('class', 'cursor')
      ring.setAttribute('cx', spot[0])
      ring.setAttribute('cy', spot[1])
      ring.setAttribute('r', 8)
      svg.append(ring)
    }
    read.textContent = `${i + 1} of ${rows.length}: ${say(i)}`
    drawing.setAttribute('aria-valuenow', i + 1)
    drawing.setAttribute('aria-valuetext', say(i))
  }
  read.hidden = false
  read.textContent = '\u00a0'
  read.setAttribute('aria-hidden', 'true') // the slider says it
  drawing.setAttribute('role', 'slider')
  drawing.setAttribute('aria-valuemin', 1)
  drawing.setAttribute('aria-valuemax', rows.length)
  drawing.setAttribute('aria-valuenow', 1)
  drawing.setAttribute('aria-valuetext', say(0))
  drawing.tabIndex = 0
  drawing.addEventListener('focus', () => at < 0 && show(0))
  drawing.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return
    const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key]
    let next
    if (step) next = Math.min(rows.length - 1, Math.max(0, at + step))
    else if (event.key === 'Home') next = 0
    else if (event.key === 'End') next = rows.length - 1
    else return
    event.preventDefault()
    show(next)
  })
  drawing.addEventListener('pointermove', (event) => {
    const svg = [...drawing.querySelectorAll('svg')].find((s) => s.clientWidth > 0)
    if (!svg) return
    const box = svg.getBoundingClientRect()
    const scale = svg.viewBox.baseVal.width / box.width
    const [x, y] = [(event.clientX - box.left) * scale, (event.clientY - box.top) * scale]
    let best = 0
    let least = Infinity
    spotsOf(svg).forEach(([sx, sy], i) => {
      const d = (sx - x) ** 2 + (sy - y) ** 2
      if (d < least) [least, best] = [d, i]
    })
    if (best !== at) show(best)
  })
}

for (const table of document.querySelectorAll('table[data-sort]')) {
  const body = table.tBodies[0]
  const heads = [...table.querySelectorAll('thead th')]
  heads.forEach((head, column) => {
    const button = document.createElement('button')
    button.type = 'button'
    button.textContent = head.textContent
    head.replaceChildren(button)
    button.addEventListener('click', () => {
      const down = head.getAttribute('aria-sort') !== 'descending'
      for (const other of heads) other.removeAttribute('aria-sort')
      head.setAttribute('aria-sort', down ? 'descending' : 'ascending')
      const value = (row) => {
        const cell = row.children[column]
        return column === 0 ? cell.textContent : cell.dataset.value === undefined ? null : Number(cell.dataset.value)
      }
      const rows = [...body.rows].sort((a, b) => {
        const [x, y] = [value(a), value(b)]
        if (x === null || y === null) return (x === null) - (y === null)
        const order = typeof x === 'number' ? x - y : x.localeCompare(y)
        return down ? -order : order
      })
      body.append(...rows)
    })
  })
}

const kind = document.querySelector('#kind')
if (kind) {
  kind.closest('.choose').hidden = false
  kind.addEventListener('change', () => {
    for (const row of document.querySelectorAll('table.displays tbody tr'))
      row.hidden = !row.dataset.kind.startsWith(kind.value)
  })
}
