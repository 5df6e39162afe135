// Notes in the book of a running station with a real browser, as a phone does:
//
//   node forms.mjs http://127.0.0.1:8080 [--passphrase TEXT] [--shots FOLDER]
//
// The station's book is the one of ../../cmd/ootherm/browser_test.go, and its zone
// America/New_York. With --passphrase only what hangs on it is tried. It needs
// what check.mjs needs. Exit 0: all held; 1: what did not is told on stderr; 2:
// wrong usage.
import { readFile } from 'node:fs/promises'
import { createServer } from 'node:http'
import { createRequire } from 'node:module'
import { launch } from './chromium.mjs'

const [base, ...rest] = process.argv.slice(2)
const option = name => rest.includes(name) ? rest[rest.indexOf(name) + 1] : ''
if (!base || rest.length % 2) {
  console.error('usage: node forms.mjs BASE-URL [--passphrase TEXT] [--shots FOLDER]')
  process.exit(2)
}
const passphrase = option('--passphrase'), shots = option('--shots')
const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const found = []
const minute = 60000

// A phone somewhere else than the station: its hour is never the station's.
// live.mjs looks at what the worker keeps.
const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, timezoneId: 'Asia/Tokyo', serviceWorkers: 'block' }

let egg = 0, box = 0, young = 0, bare = 0, old = 0
const nextEgg = () => `E1-${++egg}`
const nextBox = () => `F${++box}`
const nextYoung = () => `H1-${++young}`
// Each makes answers of its own, so that every one is another entry.
const forms = {
  found: () => { const b = nextBox(); return { dam: 'Sorrel', eggs: '3', box: b, clutch: 'found in ' + b } },
  placed: () => { const e = `P1-${++bare}`; return { egg: e, box: 'B2', slot: e } },
  looked: () => ({ dam: 'Tansy' }),
  'box-candled': () => ({ box: 'B3', every: 'fertile' }),
  candled: () => ({ egg: nextEgg(), verdict: 'fertile' }),
  weighed: () => ({ box: 'B2', total_g: '108.5' }),
  watered: () => ({ box: 'B2', water_g: '4' }),
  moved: () => ({ box: 'B2', zone: 'incubator', probe: 'warm' }),
  'egg-moved': () => { const e = nextEgg(); return { egg: e, box: 'B2', slot: e } },
  pipped: () => ({ egg: nextEgg() }),
  hatched: () => ({ egg: nextEgg(), mass_g: '1.9' }),
  lost: () => ({ egg: nextEgg(), why: 'mould' }),
  'hatchling shed': () => ({ hatchling: nextYoung(), what: 'shed' }),
  'hatchling fed': () => ({ hatchling: nextYoung(), what: 'fed' }),
  'hatchling weighed': () => ({ hatchling: nextYoung(), what: 'weighed', mass_g: '2.1' }),
  'hatchling died': () => ({ hatchling: nextYoung(), what: 'died' }),
  note: () => ({ text: 'a dent\nin the shell', about: 'B2' }),
  rested: () => ({ dam: 'Sorrel' }),
  retired: () => ({ dam: `Old ${++old}` }),
  pairing: () => ({ dam: 'Sorrel', sire: 'Juniper' }),
  dam: () => ({ name: 'Dam of ' + nextBox(), profile: 'crested gecko' }),
  amended: () => ({ whose: 'Sorrel', profile: 'gargoyle gecko', why: 'a slip' }),
  'clutch-amended': () => ({ laying: 'P1', profile: 'gargoyle gecko' }),
  box: () => ({ newbox: 'N' + nextBox(), zone: 'room', medium: 'vermiculite', dry_g: '40', water_g: '40', total_g: '112' }),
  emptied: () => ({ box: nextBox() }),
}

// One script and one template serve every form. These have every type of field between
// them: the connection is lost for them, and they are filled without JavaScript too.
const lostForms = ['found', 'candled', 'watered', 'note', 'hatchling weighed', 'box']

const browser = await launch()
try {
  if (passphrase) {
    await one('after the passphrase, the page one was at', comesBack)
    await one('a session that ended', sessionEnds)
  } else {
    await one('eggs found, taps', taps)
    const scripted = [], plain = []
    for (const [name, answers] of Object.entries(forms)) {
      const kind = name.split(' ')[0]
      scripted.push([name, p => sent(p, kind, answers(), lostForms.includes(name))])
      if (lostForms.includes(name)) plain.push([`${name}, no JavaScript`, p => sentPlain(p, kind, answers())])
    }
    scripted.push(['what is hardly meant', hardlyMeant], ['a station that starts', starting], ['another site', otherSite])
    plain.push(["the station's time", stationTime], ['sent again as something else', changed], ['what is hardly meant, no JavaScript', hardlyMeant])
    // A clock that is set is set for all pages of its context: these two have their own.
    const own = [["the phone's time", phoneTime], ['a clock that is off', offClock]]
    await Promise.all([
      ...[1, 2].map(() => all(scripted, phone)), ...[1, 2].map(() => all(plain, { ...phone, javaScriptEnabled: false })),
      ...own.map(job => all([job], phone)),
    ])
  }
} finally {
  await within(minute, browser.close()).catch(e => console.log(`the end of the browser: ${e.message}`))
}
for (const f of found) console.error(f)
console.log(found.length ? `${found.length} did not hold` : 'all held')
process.exit(found.length ? 1 : 0)

// all tries what is left of a list, one thing after the other in one context: a lost
// connection is lost for all pages of its context.
async function all(jobs, options) {
  const context = await browser.newContext(options)
  for (let j = jobs.shift(), page; j; j = jobs.shift()) page = await one(j[0], j[1], context, page)
  await within(minute, context.close()).catch(e => console.log(`the end of a context: ${e.message}`))
}

// one tries one thing on a page, and returns the page where the next thing can use it: a new
// page costs as much as a form.
async function one(name, what, context, page) {
  context ||= await browser.newContext(phone)
  context.setDefaultTimeout(30000)
  page ||= await context.newPage()
  try {
    await within(4 * minute, what(page))
    await within(minute, context.setOffline(false))
    return page
  } catch (e) {
    found.push(`${name}: ${e.message.split('\n').slice(0, 6).join(' ')}`)
    await within(minute, context.setOffline(false).then(() => page.close())).catch(e => console.log(`${name}, its end: ${e.message}`))
  }
}

// within waits for a promise, but not for ever. A page that hangs while it is closed has shown
// what was asked of it: that is printed, and is no failure.
async function within(most, promise) {
  let timer
  try {
    return await Promise.race([promise, new Promise((_, no) => { timer = setTimeout(() => no(new Error(`no end after ${most / 1000} s`)), most) })])
  } finally {
    clearTimeout(timer)
  }
}

function must(holds, words) { if (!holds) throw new Error(words) }
function same(is, want, words) { must(JSON.stringify(is) === JSON.stringify(want), `${words}: ${JSON.stringify(is)}, want ${JSON.stringify(want)}`) }

async function book() {
  const answer = await fetch(new URL('/api/v1/book', base))
  must(answer.ok, `the book: status ${answer.status}`)
  return (await answer.text()).trim().split('\n').map(l => JSON.parse(l))
}
async function stored(key) {
  return (await book()).filter(e => e.key === key)
}

function open(page, kind) { return page.goto(new URL('/note/' + kind, base).href) }
function key(page) { return page.locator('[name=key]').first().inputValue() }
function save(page) { return page.getByRole('button', { name: 'Note it' }) }

async function fill(page, answers) {
  for (const [name, value] of Object.entries(answers)) {
    const fields = page.locator(`main [name="${name}"]`)
    const type = await fields.first().evaluate(e => e.type)
    if (type === 'radio' || type === 'checkbox') await page.locator(`main [name="${name}"][value="${value}"]`).check()
    else if (type === 'select-one') await fields.selectOption(value)
    else await fields.fill(value)
  }
}

// typed is what stands in the form.
async function typed(page, answers) {
  const is = {}
  for (const name of Object.keys(answers)) {
    const fields = page.locator(`main [name="${name}"]`)
    const type = await fields.first().evaluate(e => e.type)
    is[name] = type === 'radio' || type === 'checkbox'
      ? await fields.evaluateAll(all => all.find(e => e.checked)?.value ?? 'none picked') : await fields.inputValue()
  }
  return is
}

async function noted(page) {
  // Polled, since the second of two taps breaks the first one's way off.
  for (const until = Date.now() + 30000; !page.url().endsWith('/note?noted'); await page.waitForTimeout(100)) {
    const alert = await page.getByRole('alert').allTextContents().catch(() => [])
    must(!alert.length, `refused: ${alert}`)
    must(Date.now() < until, `it stays at ${page.url()}`)
  }
  await page.waitForLoadState()
}

async function taps(page) {
  await page.goto(base)
  let n = 0
  const tap = async at => { n++; await at.tap() }
  await tap(page.getByRole('link', { name: 'Eggs found' }))
  await page.waitForURL('**/note/found')
  const k = await key(page)
  await tap(page.getByText('Sorrel', { exact: false }))
  await tap(page.getByText('3', { exact: true }))
  await tap(page.getByText(/^B1, /))
  await tap(save(page))
  await noted(page)
  must(n <= 5, `${n} taps`)
  const [e] = await stored(k)
  const [look] = await stored('looked')
  same([e.dam, e.eggs, e.laid_after], ['Sorrel', 3, look.at], 'the clutch')
  const places = (await book()).filter(x => x.entry === 'placed' && x.key.startsWith(k + '.'))
  same(places.map(p => p.box + p.slot), ['B1a', 'B1b', 'B1c'], 'its places')
}

// sizes is what a thumb needs.
async function sizes(page) {
  const small = await page.evaluate(() => [...document.querySelectorAll('main a, main button, main label.pick, main select, main textarea, main p > input, main input.other')]
    .map(e => ({ e, r: e.getBoundingClientRect() })).filter(({ r }) => r.width > 0 && (r.height < 44 || r.width < 44))
    .map(({ e, r }) => `${e.localName} ${e.textContent.trim().slice(0, 20)} ${Math.round(r.width)} x ${Math.round(r.height)}`))
  same(small, [], 'too small to tap')
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)
  same(wide, 0, 'wider than the screen')
}

async function reads(page) {
  await page.evaluate(axe)
  const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'], preload: false }))
  same(violations.map(v => `${v.id}: ${v.nodes[0].target}`), [], 'axe')
}

// again reloads a page, also while the second of two taps is still on its way.
async function again(page) {
  await page.reload().catch(() => page.reload())
}

// sent fills a form and sends it with two taps. Where lose is true, the connection is lost before.
async function sent(page, kind, answers, lose) {
  await open(page, kind)
  await sizes(page)
  await reads(page)
  if (shots) await page.screenshot({ path: `${shots}/note-${kind}.png`, fullPage: true })
  const k = await key(page)
  await fill(page, answers)
  if (lose) await lost(page, kind, k, answers) // it is sent by itself
  else await save(page).dblclick({ delay: 5 })
  await once(page, k)
  await undo(page, k)
  if (!lose) return
  await open(page, kind)
  must(await key(page) !== k, 'a form that was sent comes again')
}

// lost sends a form twice without a connection: it stays as it was typed, and waits once.
async function lost(page, kind, k, answers) {
  await page.context().setOffline(true)
  await save(page).click()
  await page.getByText('No connection: kept here, and sent when the station answers.').waitFor()
  await save(page).dblclick({ delay: 5 })
  await page.getByText('1 note waits on this device until the station answers').waitFor()
  await page.getByText('No connection: kept here, and sent when the station answers.').waitFor()
  same(await typed(page, answers), answers, 'typed, after the connection was lost')
  must(new URL(page.url()).pathname === '/note/' + kind, `it went to ${page.url()}`)
  same((await stored(k)).length, 0, 'entries before it was sent')
  await page.context().setOffline(false)
}

// sentPlain fills a form without JavaScript and sends it with two taps. The connection is lost before.
async function sentPlain(page, kind, answers) {
  await page.goto(new URL('/note', base).href)
  await page.locator(`a[href="/note/${kind}"]`).first().click()
  await page.waitForURL('**/note/' + kind)
  const k = await key(page)
  await lostPlain(page, kind, k, answers)
  await save(page).dblclick({ delay: 5 })
  await once(page, k)
  await undo(page, k)
}

// lostPlain sends a form without a connection, goes back from the browser's own page, and
// finds it as it was typed.
async function lostPlain(page, kind, k, answers) {
  // A browser writes down what was typed at a time of its own: within a second
  // where it is looked at, within five where it is not, later when it is busy.
  for (const rest of [2000, 6000, 20000]) {
    await fill(page, answers)
    await page.waitForTimeout(rest)
    await lostAndBack(page)
    if (JSON.stringify(await typed(page, answers)) === JSON.stringify(answers)) break
  }
  same(new URL(page.url()).pathname, '/note/' + kind, 'going back')
  same([await typed(page, answers), await key(page)], [answers, k], 'typed, and the key, after going back')
  same((await stored(k)).length, 0, 'entries before it was sent')
}

// lostAndBack sends over a lost connection and goes back from the browser's own page.
async function lostAndBack(page) {
  await page.context().setOffline(true)
  await Promise.all([page.waitForEvent('framenavigated', f => f.url().startsWith('chrome-error:')), save(page).click()])
  for (const until = Date.now() + 30000; ; await page.waitForTimeout(100)) { // until that page is there
    const fault = await page.goBack().then(() => '', e => e.message)
    if (!fault) break
    must(/Not attached/.test(fault) && Date.now() < until, fault)
  }
  await page.context().setOffline(false)
}

async function once(page, k) {
  await noted(page)
  await again(page)
  await page.getByText(/^Noted: /).waitFor()
  same((await stored(k)).length, 1, 'entries of a form that was sent more than once')
}

// undo is one void, however often it is tapped.
async function undo(page, k) {
  const row = page.locator('li, .done', { has: page.locator(`[name=undo][value="${k}"]`) })
  await row.getByRole('button').dblclick({ delay: 5 })
  await row.waitFor({ state: 'detached' })
  same((await book()).filter(e => e.void === k).length, 1, 'undone')
}

function seconds(ms) { return new Date(ms).toISOString().replace(/\.\d+/, '') }
// tokyo is how the phone's own form shows a time; Tokyo has no summer time.
function tokyo(ms) { return new Date(ms + 9 * 60 * minute).toISOString().slice(0, 16) }

async function phoneTime(page) {
  const at = Math.floor(Date.now() / 1000) * 1000 - 2 * minute // a phone two minutes behind is not asked
  await page.clock.setFixedTime(at)
  await open(page, 'note')
  same(await page.locator('[name=at]').inputValue(), tokyo(at), 'the time shown')
  const whose = await page.locator('#whose').textContent()
  must(/^This device's time; where the station is, \d{4}-\d\d-\d\d \d\d:\d\d\.$/.test(whose), `whose time: ${whose}`)
  let k = await key(page)
  await fill(page, { text: 'the moment it is sent' })
  await page.clock.setFixedTime(at + minute)
  await save(page).click()
  await noted(page)
  same((await stored(k))[0]?.at, seconds(at + minute), 'the time of sending')

  await open(page, 'note')
  k = await key(page)
  await fill(page, { text: 'an hour ago', at: tokyo(at - 60 * minute) })
  await save(page).click()
  await noted(page)
  same((await stored(k))[0]?.at, seconds(Math.floor((at - 60 * minute) / minute) * minute), 'a time that was typed')

  await open(page, 'note')
  k = await key(page)
  await fill(page, { text: 'sent again' })
  await page.context().setOffline(true)
  await save(page).click()
  await page.getByText('No connection: kept here').waitFor()
  await page.clock.setFixedTime(at + 3 * minute)
  await page.context().setOffline(false)
  await noted(page)
  same((await stored(k))[0]?.at, seconds(at + minute), 'the time it was first sent')
}

async function offClock(page) {
  for (const off of [40, -180]) {
    await page.clock.setFixedTime(Date.now() + off * minute)
    await open(page, 'note')
    const k = await key(page)
    await fill(page, { text: `a clock ${off} minutes off` })
    await save(page).click()
    const alert = page.getByRole('alert')
    await alert.waitFor()
    const words = await alert.textContent()
    must(words.includes(off > 0 ? '40 min ahead of the station' : '3 h behind the station'), `it says: ${words}`)
    same((await stored(k)).length, 0, 'entries before it was told')
    same(await page.locator('#whose').textContent(), "The station's time.", 'whose time')
    await reads(page)
    await save(page).click()
    await page.waitForURL('**/note?noted')
    const [e] = await stored(k)
    must(Math.abs(Date.parse(e.at) - Date.now()) < minute, `noted at ${e.at}`)
  }
}

async function stationTime(page) {
  await open(page, 'note')
  const want = new Intl.DateTimeFormat('sv', { timeZone: 'America/New_York', dateStyle: 'short', timeStyle: 'short' }).format(Date.now()).replace(' ', 'T')
  const is = await page.locator('[name=at]').inputValue()
  must(Math.abs(Date.parse(is) - Date.parse(want)) <= minute, `the form shows ${is}, the station has ${want}`)
  const k = await key(page)
  await fill(page, { text: 'on the station\'s clock', at: '2026-07-01T08:30' })
  await save(page).click()
  await noted(page)
  same((await stored(k))[0]?.at, '2026-07-01T12:30:00Z', 'the time in New York')
}

// Back to a form that was noted, and another thing in it: told, and noted once
// it is tapped again.
async function changed(page) {
  await page.goto(base)
  await open(page, 'note')
  const k = await key(page)
  await fill(page, { text: 'first' })
  await save(page).click()
  await noted(page)
  await page.goBack()
  await fill(page, { text: 'second' })
  await save(page).click()
  const words = await page.getByRole('alert').textContent()
  must(words.includes('in the book already, as: A note: first'), `it says: ${words}`)
  same(await page.locator('[name=text]').inputValue(), 'second', 'what was typed')
  const other = await key(page)
  must(other !== k, 'the key is the same')
  await save(page).click()
  await page.waitForURL('**/note?noted')
  same([(await stored(k))[0]?.text, (await stored(other))[0]?.text], ['first', 'second'], 'noted')
}

// What is hardly meant is asked for once, with what was typed beside it; a second
// tap notes it.
async function hardlyMeant(page) {
  await open(page, 'hatched')
  const k = await key(page), answers = { egg: nextEgg(), mass_g: '1900' }
  await fill(page, answers)
  await save(page).click()
  const words = await page.getByRole('alert').textContent()
  must(words.includes(`1900 g for the hatchling of ${answers.egg}? An egg of a crested gecko weighs 1 to 3 g.`), `it says: ${words}`)
  must(words.includes('If it is right as it stands, note it once more.'), `it says: ${words}`)
  same([await typed(page, answers), await key(page)], [answers, k], 'typed, and the key, when it is asked for')
  same((await stored(k)).length, 0, 'entries before it was said to be right')
  if (shots) await page.screenshot({ path: `${shots}/note-asked.png`, fullPage: true })
  await save(page).click()
  await page.waitForURL('**/note?noted')
  await once(page, k)
  await undo(page, k)
}

// A station that cannot take it yet says so beside what was typed; a network that
// answers in its place has noted nothing.
async function starting(page) {
  await open(page, 'note')
  const k = await key(page)
  await fill(page, { text: 'typed while it started' })
  // One route for all: the browser may miss a second that is set while the first ends.
  let sent = 0
  await page.route('**/note/note?send', r => {
    sent++
    if (sent === 1) return r.fulfill({ status: 503, contentType: 'text/html; charset=utf-8', body: '<main><h1>Starting</h1><p>The book is not open yet.</p></main>' })
    return sent === 2 ? r.fulfill({ status: 302, headers: { location: new URL('/review', base).href } }) : r.continue()
  })
  await save(page).click()
  await page.getByText('Not noted. The book is not open yet.').waitFor()
  await save(page).click()
  await page.getByText(/^Not noted\. (?!The book is not open)/).waitFor()
  same(await page.locator('[name=text]').inputValue(), 'typed while it started', 'what was typed')
  await save(page).click()
  await page.waitForURL('**/note?noted')
  await once(page, k)
  await page.unroute('**/note/note?send')
}

async function otherSite(page) {
  const body = `<form method="post" action="${new URL('/note/note', base)}"><input name="key" value="stolen"><input name="text" value="x">
    <input name="at" value="2026-07-01T08:30"><button>Go</button></form>
    <form method="post" action="${new URL('/act', base)}"><input name="do" value="out-of-service"><input name="zone" value="room"><button>Act</button></form>`
  const server = createServer((_, w) => { w.setHeader('Content-Type', 'text/html'); w.end(body) })
  await new Promise(r => server.listen(0, '127.0.0.1', r))
  try {
    for (const host of ['127.0.0.1', 'localhost']) { // another origin of the site, another site
      for (const name of ['Go', 'Act']) {
        await page.goto(`http://${host}:${server.address().port}/`)
        const [answer] = await Promise.all([page.waitForResponse(r => r.request().method() === 'POST'), page.getByRole('button', { name }).click()])
        same(answer.status(), 403, `${name} from ${host}`)
      }
    }
    same((await stored('stolen')).length, 0, 'entries from another site')
  } finally {
    server.close()
  }
}

async function enter(page) {
  await page.getByLabel('The passphrase of this station').fill(passphrase)
  await page.getByRole('button', { name: 'Open' }).click()
}

async function comesBack(page) {
  const context = page.context()
  for (const path of ['/b/B1', '/note/weighed?box=B1']) {
    await context.clearCookies()
    await page.goto(new URL(path, base).href)
    same(new URL(page.url()).pathname, '/login', 'before the passphrase')
    await reads(page)
    await enter(page)
    await page.waitForURL(new URL(path, base).href)
  }
  same(await page.locator('[name=box]:checked').inputValue(), 'B1', 'the box asked for')
}

// The station was restarted while a form stood open: with a script and without,
// what was typed comes back after the passphrase.
async function sessionEnds() {
  for (const script of [true, false]) {
    const other = await browser.newContext({ ...phone, javaScriptEnabled: script })
    const p = await other.newPage()
    await p.goto(new URL('/note/weighed', base).href)
    await enter(p)
    await p.waitForURL('**/note/weighed')
    await fill(p, { box: 'B2', total_g: '107.5' })
    await other.clearCookies()
    await save(p).click()
    await p.getByText('nothing was noted').waitFor()
    await enter(p)
    await p.waitForURL('**/note/weighed?**')
    same(await typed(p, { box: '', total_g: '' }), { box: 'B2', total_g: '107.5' }, `typed, ${script ? 'with' : 'without'} a script`)
    await save(p).click()
    await noted(p)
    must((await p.locator('main').textContent()).includes('107.5 g'), 'it is not noted')
    await other.close()
  }
}
