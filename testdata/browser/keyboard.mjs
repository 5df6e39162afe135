// Walks through pages with the keyboard alone, on a phone's width and a desk's: every control is
// reached once in the order of the document, is on the screen and has a ring; a fold opens with
// Enter; a note is written, sent and undone.
//
//   node keyboard.mjs http://127.0.0.1:8080
//
// The station takes notes from this machine, as `ootherm demo` does. Exit 0: nothing found; 1:
// what was found is told on stderr; 2: wrong usage.
import { launch } from './chromium.mjs'
import { kinds } from './kinds.mjs'

const [base, more] = process.argv.slice(2)
if (!base || more) {
  console.error('usage: node keyboard.mjs BASE-URL')
  process.exit(2)
}
const at = path => new URL(path, base).href
const found = []
const pages = (await kinds(base)).filter(p => /^\/($|c\/|alarm\b|note\/)/.test(p))
const browser = await launch()
try {
  for (const width of [390, 1280]) {
    const context = await browser.newContext({ viewport: { width, height: 844 }, serviceWorkers: 'block' })
    const page = await context.newPage()
    for (const path of pages) await walk(page, path, `${path} at ${width} px`)
    await unfold(page)
    await note(page)
    await context.close()
  }
} finally {
  await browser.close()
}
for (const f of found) console.error(f)
console.log(found.length ? `${found.length} found` : `nothing found on ${pages.length} pages`)
process.exit(found.length ? 1 : 0)

// focused tells of what has the focus: which control of the document it is, and what is wrong
// with how it shows. The later stops of a date have the browser's own ring.
function focused() {
  const e = document.activeElement, box = e.getBoundingClientRect(), style = getComputedStyle(e)
  if (e === document.body) return null
  const name = `<${e.localName}> ${(e.textContent || e.name || '').trim().slice(0, 40)}`, faults = []
  if (style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2) faults.push('has no ring')
  const y = box.top + Math.min(box.height, 40) / 2
  const tops = [0.05, 0.5, 0.95].map(share => document.elementFromPoint(box.left + box.width * share, y))
  const shows = top => top && (e.contains(top) || top.contains(e) || [...(e.labels || [])].some(l => l.contains(top)))
  if (!tops.some(shows)) faults.push('is off the screen or covered')
  return { index: window.controls.indexOf(e), name, faults }
}

// controls are all that can take the focus, in the order of the document; of a group of radio
// buttons one does.
function controls() {
  const groups = new Set()
  window.controls = [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]')].filter(e => {
    if (e.disabled || e.type === 'hidden' || e.tabIndex < 0 || !e.checkVisibility() || !e.getClientRects().length) return false
    if (e.type !== 'radio') return true
    const group = [...(e.form || document).querySelectorAll('input[type=radio]')].filter(r => r.name === e.name)
    const one = group.find(r => r.checked) || e
    const key = group[0]
    if (groups.has(key) || one !== e) return false
    groups.add(key)
    return true
  })
  return window.controls.map(e => `<${e.localName}> ${(e.textContent || e.name || '').trim().slice(0, 40)}`)
}

async function open(page, path) {
  await page.route('**/events', () => {}) // the page stays as it is
  await page.goto(at(path), { waitUntil: 'load' })
}

async function walk(page, path, where) {
  await open(page, path)
  const names = await page.evaluate(controls), reached = new Set()
  let last = -1
  for (let i = 0; i < names.length * 3 + 10; i++) { // a field of a date has several stops
    await page.keyboard.press('Tab')
    const f = await page.evaluate(focused)
    if (!f || f.index === 0 && last > 0) break // past the last one
    for (const fault of f.index === last ? [] : f.faults) found.push(`${where}: ${f.name} ${fault}`)
    if (f.index < last) found.push(`${where}: ${f.name} comes after ${names[last]}`)
    last = f.index
    reached.add(f.index)
  }
  names.forEach((name, i) => { if (!reached.has(i)) found.push(`${where}: ${name} is not reached`) })
}

// tabTo presses Tab until a control has the focus.
async function tabTo(page, selector) {
  const most = await page.locator('a, button, input, select, textarea, summary').count() * 3
  for (let i = 0; i < most; i++) {
    await page.keyboard.press('Tab')
    if (await page.evaluate(s => document.activeElement.matches(s), selector)) return
  }
  throw new Error(`${selector} is not reached by Tab`)
}

async function unfold(page) {
  await open(page, '/')
  await tabTo(page, 'summary')
  await page.keyboard.press('Enter')
  if (!await page.evaluate(() => document.activeElement.parentElement.open)) found.push('Enter opens no fold')
}

async function note(page) {
  await open(page, '/note/note')
  await tabTo(page, '[name=text]')
  await page.keyboard.type('by keyboard')
  await tabTo(page, 'form.keep .save')
  await page.keyboard.press('Enter')
  await page.getByText(/^Noted: .*by keyboard/).first().waitFor()
  await tabTo(page, '.done button')
  await page.keyboard.press('Enter')
  await page.getByText(/^Undone/).first().waitFor()
}
