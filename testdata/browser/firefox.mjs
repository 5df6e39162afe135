// Looks at every kind of page of a running station with Firefox, on a phone and on a desk, and
// notes something with a form:
//
//   node firefox.mjs http://127.0.0.1:8080 [/usr/bin/firefox-esr]
//
// It needs Node 22 (npm install brings it as node_modules/.bin/node). It speaks WebDriver BiDi
// (W3C) itself, since Firefox ESR lacks a command that the package for Chromium needs. Exit 0:
// nothing found; 1: what was found is told on stderr.
import { spawn } from 'node:child_process'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { kinds } from './kinds.mjs'

const [base, program = 'firefox-esr'] = process.argv.slice(2)
// ends are what Firefox says of a fetch that ends with its page, and of itself.
const ends = /\/events(\.$| was interrupted)|A ServiceWorker intercepted|^No external component|script-src resource: chrome:/
const folder = await mkdtemp(join(tmpdir(), 'firefox-'))
const found = []
let pages = [], where = ''
try {
  pages = await kinds(base)
  for (const dark of [false, true]) await lookAtAll(dark)
} finally {
  await rm(folder, { recursive: true, force: true })
}
for (const f of found) console.error(f)
console.log(found.length ? `${found.length} found` : `nothing found on ${pages.length} pages`)
process.exitCode = found.length ? 1 : 0

async function lookAtAll(dark) {
  await writeFile(join(folder, 'user.js'), `user_pref("layout.css.prefers-color-scheme.content-override", ${dark ? 0 : 1});\nuser_pref("datareporting.policy.dataSubmissionEnabled", false);\nuser_pref("app.update.enabled", false);\n`)
  const firefox = spawn(program, ['--headless', '--no-remote', '--profile', folder, '--remote-debugging-port', '0'], { stdio: ['ignore', 'ignore', 'pipe'] })
  try {
    const ask = await connect(firefox)
    const { capabilities } = await ask('session.new', { capabilities: {} })
    await ask('session.subscribe', { events: ['log.entryAdded', 'network.responseCompleted'] })
    const { context } = await ask('browsingContext.create', { type: 'tab' })
    for (const width of [390, 1280]) {
      await ask('browsingContext.setViewport', { context, viewport: { width, height: 844 } })
      for (const path of pages) await look(ask, context, path, `${path} at ${width} px, ${dark ? 'dark' : 'light'}`)
    }
    if (!dark) await note(ask, context)
    console.log(`Firefox ${capabilities.browserVersion}, ${dark ? 'dark' : 'light'}: ${pages.length} pages`)
  } finally {
    firefox.kill()
    await new Promise(ended => firefox.exitCode === null ? firefox.on('exit', ended) : ended())
  }
}

// connect gives a function that sends a command and waits for its answer.
async function connect(firefox) {
  const address = await new Promise((is, not) => {
    let said = ''
    firefox.on('error', not)
    firefox.on('exit', () => not(new Error(`${program} ended: ${said}`)))
    firefox.stderr.on('data', text => { said += text; const m = said.match(/BiDi listening on (ws:\S+)/); if (m) is(m[1]) })
  })
  const socket = new WebSocket(address + '/session'), waiting = new Map()
  await new Promise((is, not) => { socket.onopen = is; socket.onerror = not })
  socket.onmessage = ({ data }) => {
    const x = JSON.parse(data)
    if (x.type === 'event') return event(x)
    const { is, not } = waiting.get(x.id)
    waiting.delete(x.id)
    if (x.type === 'error') not(new Error(x.message))
    else is(x.result)
  }
  let id = 0
  return (method, params) => new Promise((is, not) => { waiting.set(++id, { is, not }); socket.send(JSON.stringify({ id, method, params })) })
}

function event({ method, params }) {
  if (method === 'log.entryAdded' && ['error', 'warn'].includes(params.level) && !ends.test(params.text)) found.push(`${where}: the console says: ${params.text}`)
  if (method === 'network.responseCompleted' && params.response.status >= 400) found.push(`${where}: ${params.response.url}: status ${params.response.status}`)
}

async function run(ask, context, script) {
  const x = await ask('script.evaluate', { expression: `JSON.stringify((${script})() ?? null)`, target: { context }, awaitPromise: true })
  if (x.type === 'exception') throw new Error(x.exceptionDetails.text)
  return JSON.parse(x.result.value)
}

async function look(ask, context, path, at) {
  where = at
  await ask('browsingContext.navigate', { context, url: new URL(path, base).href, wait: 'complete' })
  const faults = await run(ask, context, () => {
    const out = [], wide = document.documentElement.scrollWidth - document.documentElement.clientWidth
    if (wide > 0) out.push(`${wide} px wider than the screen`)
    if (!document.querySelector('h1')) out.push('there is no heading')
    document.querySelectorAll('details').forEach(d => { d.open = true })
    for (const svg of document.querySelectorAll('svg.chart, svg.row')) {
      const box = svg.getBoundingClientRect()
      if (box.width < 20 || box.height < 10) out.push(`a drawing is ${box.width} x ${box.height}`)
      for (const path of svg.querySelectorAll('path')) if (!path.getTotalLength()) out.push(`a path is not drawn: ${path.getAttribute('class')}`)
    }
    for (const figure of document.querySelectorAll('figure.plot')) if (figure.querySelector('tr[data-x]') && !figure.querySelector('.reads')) out.push('a drawing has no read-out')
    return out
  })
  for (const f of faults) found.push(`${at}: ${f}`)
}

// note notes a remark and undoes it.
async function note(ask, context) {
  where = 'a note'
  await ask('browsingContext.navigate', { context, url: new URL('/note/note', base).href, wait: 'complete' })
  await run(ask, context, () => { document.querySelector('[name=text]').value = 'a remark'; document.querySelector('form.keep .save').click() })
  await until(ask, context, () => /^Noted: .*a remark/.test((document.querySelector('.done') || {}).innerText), 'it is not noted')
  await run(ask, context, () => { document.querySelector('.done button').click() })
  await until(ask, context, () => /^Undone/.test((document.querySelector('.done') || {}).innerText), 'it is not undone')
}

async function until(ask, context, script, fault) {
  for (const end = Date.now() + 20000; Date.now() < end; await new Promise(r => setTimeout(r, 100))) {
    if (await run(ask, context, script).catch(() => false)) return // between two pages nothing answers
  }
  found.push(fault)
}
