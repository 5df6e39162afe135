// Watches pages that keep themselves up to date, with a real browser, as the station goes and
// comes back:
//
//   node live.mjs http://127.0.0.1:8080
//
// The station's book is the one of ../../cmd/ootherm/browser_test.go. It needs what check.mjs
// needs. Exit 0: all held; 1: what did not is told on stderr; 2: wrong usage.
import { connect, createServer } from 'node:net'
import { launch } from './chromium.mjs'

const [base, more] = process.argv.slice(2)
if (!base || more) {
  console.error('usage: node live.mjs BASE-URL')
  process.exit(2)
}
// The browser reaches the station through this line. While it is cut, nothing comes through: a
// worker of the browser that has just started does not know yet that its context is offline.
const line = createServer(c => {
  if (isCut) return c.destroy()
  if (isSilent) return c.on('error', () => {})
  const station = connect(new URL(base).port, new URL(base).hostname)
  for (const [from, to] of [[c, station], [station, c]]) {
    ends.add(from)
    from.on('error', () => {}).on('close', () => { ends.delete(from); to.destroy() }).pipe(to)
  }
})
const ends = new Set()
let isCut = false, isSilent = false
await new Promise(r => line.listen(0, '127.0.0.1', r))
const shown = `http://127.0.0.1:${line.address().port}`
const at = path => new URL(path, shown).href
const found = []
let notes = 0
const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, locale: 'en-US' }

const browser = await launch()
try {
  for (const [name, what, options] of [
    ['a change', change, {}], ['a form that is being filled in', typing, {}], ['the station away', away, {}],
    ['a form while the station is away', form, {}], ['opened while the station is away', opened, {}], ['noted while the station is away', noted, {}],
    ['opened while the station is silent', silent, {}],
    ['hours and days', hours, {}], ['Celsius', units, { javaScriptEnabled: false }],
  ]) {
    const context = await browser.newContext({ ...phone, ...options })
    context.setDefaultTimeout(30000)
    const page = await context.newPage()
    page.on('pageerror', e => found.push(`${name}: a script failed: ${e.message}`))
    try {
      await what(page, context)
    } catch (e) {
      found.push(`${name}: ${e.message.split('\n').slice(0, 6).join(' ')}`)
    }
    await context.close()
    isCut = isSilent = false
  }
} finally {
  await browser.close()
  line.close()
}
for (const f of found) console.error(f)
console.log(found.length ? `${found.length} did not hold` : 'all held')
process.exit(found.length ? 1 : 0)

async function offline(context, cut) {
  isCut = cut
  if (cut) for (const end of ends) end.destroy()
  await context.setOffline(cut)
}

function must(holds, words) { if (!holds) throw new Error(words) }
function same(is, want, words) { must(JSON.stringify(is) === JSON.stringify(want), `${words}: ${JSON.stringify(is)}, want ${JSON.stringify(want)}`) }

// note adds an entry that the pages show, as a program does.
async function note(entry) {
  const body = JSON.stringify({ key: `live-${Date.now()}-${++notes}`, at: new Date().toISOString().replace(/\.\d+/, ''), ...entry })
  const answer = await fetch(new URL('/api/v1/book', base), { method: 'POST', headers: { 'Content-Type': 'application/x-ndjson' }, body })
  must(answer.ok, `an entry: status ${answer.status}: ${await answer.text()}`)
}

async function book() {
  const answer = await fetch(new URL('/api/v1/book', base))
  return (await answer.text()).trim().split('\n').map(l => JSON.parse(l))
}

// A change comes into the open page. What is unfolded, where one reads and the focus stay, and
// the page is not loaded again.
async function change(page) {
  await page.goto(at('/'))
  await page.evaluate(() => { window.mine = true })
  const fold = page.locator('details[data-fold]').last()
  await fold.locator('summary').click()
  await page.locator('.places a').last().focus() // a link that stays
  await page.locator('a[href="/z/room"]').last().focus()
  await page.evaluate(() => scrollTo(0, 300))
  const before = await page.evaluate(() => ({ y: scrollY, focus: document.activeElement.getAttribute('href') }))
  const name = `L${Date.now() % 100000}`
  await note({ entry: 'clutch', clutch: name, dam: 'Sorrel', eggs: 2, laid_after: '2026-02-01T12:00:00Z', laid_by: '2026-02-02T12:00:00Z' })
  await page.waitForFunction(name => document.body.textContent.includes(name), name)
  const after = await page.evaluate(() => ({ focus: document.activeElement.getAttribute('href'), mine: window.mine }))
  same(after, { focus: before.focus, mine: true }, 'the focus, and the page')
  must(await fold.evaluate(d => d.open), 'what was unfolded is folded')
  must(Math.abs(await page.evaluate(() => scrollY) - before.y) < 200, 'the page jumped')
}

async function typing(page) {
  await page.goto(at('/c/E1'))
  const form = page.locator('details', { hasText: 'Candled' }).last()
  await form.locator('summary').click()
  const when = form.locator('[name=at]'), key = await form.locator('[name=key]').inputValue()
  await when.fill('2026-03-01T08:30')
  await page.locator('h1').click() // the focus is elsewhere
  const text = `seen ${Date.now()}`
  await note({ entry: 'note', text, about: 'E1' })
  await page.waitForFunction(text => document.body.textContent.includes(text), text)
  same([await when.inputValue(), await form.locator('[name=key]').inputValue()], ['2026-03-01T08:30', key], 'what was typed, and the key')
  must(await form.evaluate(d => d.open), 'the form is folded')
}

// The station goes: the page stays, is grey and says since when. It comes back: the page is as
// before.
async function away(page, context) {
  await page.goto(at('/'))
  const text = await page.locator('h1').textContent()
  await offline(context, true)
  await page.locator('.gone').waitFor()
  const words = await page.locator('.gone').textContent()
  must(/^No answer from the station since .*\d:\d\d.*\. What you see is as of .*\d:\d\d.*\.$/.test(words), `it says: ${words}`)
  same(await page.locator('h1').textContent(), text, 'the headline')
  must(await page.evaluate(() => getComputedStyle(document.querySelector('main')).filter.includes('grayscale')), 'it is not grey')
  await offline(context, false)
  await page.locator('.gone').waitFor({ state: 'detached' })
  must(await page.evaluate(() => getComputedStyle(document.querySelector('main')).filter === 'none'), 'it stays grey')
}

// A page of a form does the same, and keeps what is typed.
async function form(page, context) {
  await page.goto(at('/note/weighed'))
  const total = page.locator('[name=total_g]'), key = await page.locator('[name=key]').inputValue()
  await total.fill('104.5')
  await offline(context, true)
  await page.locator('.gone').waitFor()
  const words = await page.locator('.gone').textContent()
  must(/^No answer from the station since .*\d:\d\d.*\. What you note here waits on this device\.$/.test(words), `it says: ${words}`)
  must(await page.evaluate(() => getComputedStyle(document.querySelector('main')).filter.includes('grayscale')), 'it is not grey')
  await offline(context, false)
  await page.locator('.gone').waitFor({ state: 'detached' })
  same([await total.inputValue(), await page.locator('[name=key]').inputValue()], ['104.5', key], 'what was typed, and the key')
}

// install waits until the browser keeps pages and the forms.
async function install(page) {
  await page.goto(at('/'))
  await page.evaluate(() => navigator.serviceWorker.ready)
  await page.reload()
  await page.evaluate(async form => {
    for (let i = 0; i < 600 && !await caches.match(form); i++) await new Promise(r => setTimeout(r, 50))
  }, at('/note/weighed'))
}

async function opened(page, context) {
  await install(page)
  const text = await page.locator('h1').textContent()
  await offline(context, true)
  await page.goto(at('/'))
  same(await page.locator('h1').textContent(), text, 'the headline')
  await page.locator('.gone').waitFor()
  await page.goto(at('/c/never-seen'))
  await page.getByText('This page was not kept on this device.').waitFor()
  await offline(context, false)
}

// The station's machine hangs: it takes connections and answers nothing.
async function silent(page) {
  await install(page)
  isSilent = true
  for (const end of ends) end.destroy()
  await page.goto(at('/note/weighed'))
  await page.getByText('What you note here waits on this device.').waitFor({ timeout: 5000 })
  const status = await page.evaluate(async () => (await fetch('/live.js', { cache: 'reload', signal: AbortSignal.timeout(20000) })).status)
  same(status, 200, 'a script of the page that was kept')
}

// Two notes of one kind wait, and each is in the book once.
async function noted(page, context) {
  await install(page)
  const had = (await book()).length
  await offline(context, true)
  for (const total of ['107.5', '106.5']) {
    await page.goto(at('/note/weighed'))
    await page.getByText('What you note here waits on this device.').waitFor()
    await page.locator('[name=box][value="B2"]').check()
    await page.locator('[name=total_g]').fill(total)
    await page.getByRole('button', { name: 'Note it' }).dblclick({ delay: 5 })
    await page.getByText('No connection: kept here').waitFor()
  }
  const waits = await page.locator('.waiting').textContent()
  must(/2 notes wait on this device/.test(waits), `it says: ${waits}`)
  same((await book()).length, had, 'entries before the station answers')
  await page.goto(at('/'))
  await page.getByText('2 notes wait on this device').waitFor()
  await offline(context, false)
  await page.getByText('Noted now: ').waitFor()
  await page.waitForFunction(() => !localStorage.getItem('waiting') || localStorage.getItem('waiting') === '[]')
  const masses = (await book()).slice(had).filter(e => e.entry === 'weighed').map(e => e.total_g)
  same(masses, [107.5, 106.5], 'what is in the book')
}

async function hours(page) {
  await page.goto(at('/'))
  const shown = await page.locator('.at').textContent()
  must(/\d:\d\d\s?[AP]M/.test(shown), `the time of the page: ${shown}`)
  const written = await page.evaluate(() => {
    const p = document.createElement('p')
    p.textContent = '2 November 09:10; 7-18 January 2026, 2 eggs; write it like 2026-06-01T08:00'
    window.localise(p)
    return p.textContent.replace(/\s/g, ' ')
  })
  same(written, 'November 2, 9:10 AM; January 7-18, 2026, 2 eggs; write it like 2026-06-01T08:00', 'days with a time, and what is to be typed')
}

async function units(page) {
  await page.goto(at('/more'))
  await page.getByRole('button', { name: 'Fahrenheit' }).click()
  await page.goto(at('/'))
  must(/°F/.test(await page.locator('main').textContent()), 'no Fahrenheit')
  await page.goto(at('/more'))
  await page.getByRole('button', { name: 'Celsius' }).click()
  await page.goto(at('/'))
  const text = await page.locator('main').textContent()
  must(/°C/.test(text) && !/°F/.test(text), 'no Celsius')
}
