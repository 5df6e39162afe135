// Looks at a running station with a real browser, on a phone and on a desk:
//
//   node check.mjs http://127.0.0.1:8080 [--shots FOLDER]
//
// It needs Chromium and, beside this file, npm install --no-package-lock. Exit 0:
// nothing found; 1: what was found is told on stderr; 2: wrong usage.
import { readFile } from 'node:fs/promises'
import { createRequire } from 'node:module'
import { launch } from './chromium.mjs'
import { kinds } from './kinds.mjs'

const [base, flag, shots] = process.argv.slice(2)
if (!base || (flag && (flag !== '--shots' || !shots))) {
  console.error('usage: node check.mjs BASE-URL [--shots FOLDER]')
  process.exit(2)
}
const at = path => new URL(path, base).href
const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const found = []
const squeeze = text => text.replace(/\s+/g, ' ')

const answer = await fetch(at('/api/v1/now'))
if (!answer.ok) {
  console.error(`/api/v1/now: status ${answer.status}: ${await answer.text()}`)
  process.exit(1)
}
const state = await answer.json()
const pages = await kinds(base)

// Drawing on a thread of its own costs a fifth more than drawing on the page's.
const browser = await launch('--disable-threaded-compositing')
try {
  // The scheme changes colours and nothing else: one width shows it.
  const looks = [[390, 'light'], [390, 'dark'], [1280, 'light']]
  await Promise.all([true, false].map(async script => {
    const context = await browser.newContext({ viewport: { width: 390, height: 844 }, javaScriptEnabled: script, serviceWorkers: 'block' })
    if (script) {
      // A browser may have no language of its own, and give the name of the system's.
      await context.addInitScript(() => Object.defineProperty(Navigator.prototype, 'language', { get: () => 'en-US@posix' }))
      await context.addInitScript(axe) // sent to the browser once, not for each page
    }
    const page = await context.newPage() // one for all paths: a new page costs more than what is done on it
    for (const path of pages) {
      let once = true // a page is turned and its scheme changed in place: to load it costs as much as to look at it
      for (const [width, scheme] of looks) {
        if (!script && scheme === 'dark') continue
        await page.emulateMedia({ colorScheme: scheme })
        await page.setViewportSize({ width, height: 844 })
        await look(page, path, width, scheme, script, once)
        once = false
      }
    }
    await context.close()
  }))
} finally {
  await browser.close()
}
for (const f of found) console.error(f)
console.log(found.length ? `${found.length} found` : `nothing found on ${pages.length} pages`)
process.exitCode = found.length ? 1 : 0

async function look(page, path, width, scheme, script, load) {
  const where = `${path} at ${width} px, ${scheme}${script ? '' : ', no JavaScript'}`
  const fault = text => found.push(`${where}: ${text}`)
  page.removeAllListeners()
  page.on('console', m => { if (m.type() === 'error') fault(`the console says: ${m.text()}`) })
  page.on('pageerror', e => fault(`a script failed: ${e.message}`))
  page.on('requestfailed', r => {
    const ends = /ABORTED/.test(r.failure()?.errorText) && ['fetch', 'eventsource'].includes(r.resourceType()) // with its page
    if (!ends) fault(`${r.url()} did not load: ${r.failure()?.errorText}`)
  })
  page.on('request', r => { if (new URL(r.url()).origin !== new URL(base).origin) fault(`it asks ${r.url()}, which is elsewhere`) })
  if (load) {
    const response = await page.goto(at(path), { waitUntil: 'load' })
    if (response.status() !== 200) fault(`status ${response.status()}`)
  } else await page.evaluate(() => { document.querySelectorAll('details').forEach(d => { d.open = d.dataset.was === 'true' }); scrollTo(0, 0) })

  if (path === '/') {
    // Is all well, and what is due: on the first screen, without a finger on it.
    const low = await page.evaluate(() => [...document.querySelectorAll('.headline')]
      .filter(e => e.getBoundingClientRect().bottom > innerHeight).map(e => e.textContent.trim()))
    for (const e of low) fault(`below the first screen: ${e}`)
    const short = squeeze(await page.evaluate(() => document.querySelector('.headline').innerText))
    for (const z of state.zones) if (!short.includes(squeeze(z.zone).trim())) fault(`how ${z.zone} is stands below the headline`)
    const folded = await page.evaluate(() => document.body.innerText)
    const waits = c => c.eggs.some(e => e.fate === 'waiting' || e.fate === 'pipped') // the finished ones are folded
    for (const n of [...state.zones.map(z => z.zone), ...state.boxes.flatMap(b => [b.box, ...b.clutches.filter(waits).map(c => c.clutch)])]) {
      if (!squeeze(folded).includes(squeeze(n).trim())) fault(`${n} is not on the page before anything is unfolded`)
    }
  }
  await page.evaluate(() => document.querySelectorAll('details').forEach(d => { d.dataset.was ??= d.open; d.open = true }))
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)
  if (wide > 0) fault(`${wide} px wider than the screen`)
  const out = await page.evaluate(() => [...document.querySelectorAll('main *, header *, footer *')]
    .filter(e => !e.closest('svg') && e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
    .map(e => `<${e.localName}> ${e.textContent.trim().slice(0, 40)}`))
  for (const e of out) fault(`runs off the right edge: ${e}`)

  const text = squeeze(await page.evaluate(() => document.body.innerText))
  if (!/never replaces a thermostat/.test(text)) fault('the caution is missing')
  if (path === '/') {
    const names = [...state.zones.map(z => z.zone), ...state.zones.flatMap(z => z.probes.map(p => p.probe)),
      ...state.boxes.map(b => b.box), ...state.boxes.flatMap(b => b.clutches.map(c => c.clutch))]
    for (const n of names) if (!text.includes(squeeze(n).trim())) fault(`${n} is not on the page`)
    const lines = await page.evaluate(() => [...document.querySelectorAll('svg[role=img]')].map(s => s.getAttribute('aria-label') || ''))
    if (lines.some(l => !l)) fault('a drawing has no words')
  }
  const small = await page.evaluate(() => [...document.querySelectorAll('a, button, summary')]
    .map(e => ({ e, r: e.getBoundingClientRect() }))
    .filter(({ e, r }) => r.width > 0 && r.height < 44)
    .map(({ e, r }) => `${e.textContent.trim().slice(0, 40)} (${Math.round(r.height)} px)`))
  for (const s of small) fault(`too small to tap: ${s}`)

  if (path === '/labels' && script && scheme === 'light') {
    const labels = await page.evaluate(() => [...document.querySelectorAll('.labels img')].map(i => [i.naturalWidth, i.alt]))
    for (const [dots, alt] of labels) if (dots !== 1181) fault(`${alt} is ${dots} dots wide, not 50 mm at 600 dots per inch`)
    const paper = (await page.pdf({ preferCSSPageSize: true })).toString('latin1').match(/MediaBox ?\[0 0 [\d.]+ [\d.]+\]/g) || []
    const sizes = paper.map(p => p.match(/[\d.]+ [\d.]+(?=\])/)[0].split(' ').map(v => Math.round(v / 72 * 25.4)).join(' x '))
    if (sizes.length !== labels.length || sizes.some(s => s !== '50 x 25')) fault(`${labels.length} labels print as pages of ${sizes.join(', ')} mm`)
  }

  // Open details hold all there is. Closed ones differ in nothing but their summaries. Of what
  // axe looks at, colours alone depend on the scheme, and these three rules on the width.
  const violations = async (inside, options) => {
    const { violations } = await page.evaluate(([inside, options]) => document.querySelector(inside) ?
      window.axe.run({ include: [[inside]] }, { resultTypes: ['violations'], ...options }) : { violations: [] }, [inside, options])
    for (const v of violations) {
      if (v.impact === 'serious' || v.impact === 'critical') {
        fault(`axe: ${v.help}: ${v.nodes.map(n => n.target.join(' ')).slice(0, 3).join('; ')}`)
      }
    }
  }
  if (script) {
    const rules = scheme === 'dark' ? ['color-contrast'] : ['color-contrast', 'scrollable-region-focusable', 'target-size']
    if (scheme === 'dark' || width > 390) await violations('html', { runOnly: rules, preload: false })
    else {
      await violations('html', {})
      await page.evaluate(() => document.querySelectorAll('details').forEach(d => { d.open = false }))
      await violations('summary', { preload: false })
    }
  }
  if (shots) {
    const name = `${path === '/' ? 'first' : path.replace(/[^A-Za-z0-9]+/g, '-').slice(1, 30)}-${width}-${scheme}${script ? '' : '-noscript'}.png`
    await page.screenshot({ path: `${shots}/${name}`, fullPage: true })
  }
}
