// Reads a drawing out under a finger, a mouse or the arrow keys: the row of its table that is
// nearest. Without it the table says the same.
'use strict'

for (const figure of document.querySelectorAll('figure.plot')) read(figure)
document.addEventListener('fresh', event => { if (event.target.matches('figure.plot')) read(event.target) })

function read(figure) {
  const svg = figure.querySelector('svg.chart')
  const rows = [...figure.querySelectorAll('tr[data-x]')].map(r => ({ x: Number(r.dataset.x), text: [...r.cells].map(c => c.textContent).filter(t => t).join(' · ') }))
  if (!svg || !rows.length) return
  const line = document.createElementNS('http://www.w3.org/2000/svg', 'line')
  line.setAttribute('class', 'pointer')
  line.setAttribute('y2', svg.getAttribute('height'))
  const out = Object.assign(document.createElement('p'), { className: 'readout', hidden: true })
  out.setAttribute('role', 'status')
  figure.append(out)
  svg.classList.add('reads')
  svg.tabIndex = 0
  let at = -1
  const show = i => {
    at = Math.max(0, Math.min(rows.length - 1, i))
    line.setAttribute('x1', rows[at].x + '%')
    line.setAttribute('x2', rows[at].x + '%')
    svg.append(line)
    out.textContent = rows[at].text
    out.hidden = false
    const wide = svg.getBoundingClientRect().width, x = rows[at].x / 100 * wide
    out.style.left = Math.max(0, Math.min(wide - out.offsetWidth, x - out.offsetWidth / 2)) + 'px'
  }
  const hide = () => { out.hidden = true; line.remove() }
  const near = event => {
    const box = svg.getBoundingClientRect(), x = 100 * (event.clientX - box.left) / box.width
    show(rows.reduce((best, r, i) => Math.abs(r.x - x) < Math.abs(rows[best].x - x) ? i : best, 0))
  }
  svg.addEventListener('pointermove', near)
  svg.addEventListener('pointerdown', near)
  svg.addEventListener('pointerleave', event => { if (event.pointerType === 'mouse') hide() })
  svg.addEventListener('blur', hide)
  svg.addEventListener('keydown', event => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key]
    if (step) { event.preventDefault(); show(at + step) }
    if (event.key === 'Escape') hide()
  })
}
