// Keeps what was typed into a form when the connection is lost, hands it to waiting.js to be
// sent later, and fills in the phone's time. Without it the forms work all the same: the
// station's time is filled in, and the browser's own Back keeps what was typed.
'use strict'

const pad = n => String(n).padStart(2, '0')
const local = d => `${d.getFullYear()}-${pad(d.getMonth() + 1)}-${pad(d.getDate())}T${pad(d.getHours())}:${pad(d.getMinutes())}`
const iso = d => d.toISOString().replace(/\.\d+/, '')

// A browser that keeps nothing (a private window, say) still sends.
const drafts = {
  name: form => 'typed ' + (form.dataset.draft || new URL(form.action).pathname),
  read(form) { try { return JSON.parse(localStorage.getItem(this.name(form))) } catch { return null } },
  write(form, pairs) { try { localStorage.setItem(this.name(form), JSON.stringify(pairs)) } catch { /* the page itself still has it */ } },
  drop(form) { try { localStorage.removeItem(this.name(form)) } catch { /* there was none */ } },
}

for (const form of document.querySelectorAll('form.keep')) begin(form)
document.addEventListener('fresh', event => { if (event.target.matches('form.keep')) begin(event.target) })

function begin(form) {
  const timed = form.elements.clock
  // Its time is fixed once it was sent: a form sent again says the same.
  form.fixed = !form.hasAttribute('data-fresh')
  if (timed && !form.fixed) {
    const draft = refused(form) || drafts.read(form)
    if (document.documentElement.dataset.kept || waiting.find(form.elements.key.value)) form.elements.key.value = newKey()
    if (Array.isArray(draft)) again(form, draft)
    else stamp(form, new Date())
  }
  if (timed) {
    whose(form)
    form.elements.at.addEventListener('input', () => whose(form))
  }
  form.addEventListener('submit', event => {
    event.preventDefault()
    if (!form.sending) send(form, event.submitter)
  })
}

// refused are the answers of this form that waited and that the station did not take.
function refused(form) {
  const item = waiting.find(new URLSearchParams(location.hash.slice(1)).get('waiting'))
  return item && item.name === drafts.name(form) ? item.pairs : null
}

// newKey is a key that no other form has, for a page that this device has kept.
function newKey() {
  return 'q-' + [...crypto.getRandomValues(new Uint8Array(16))].map(b => 'abcdefghijklmnopqrstuvwxyz234567'[b % 32]).join('')
}

// titleOf says in a few words what a form notes.
function titleOf(form, pairs) {
  const fold = form.closest('details')
  const heading = fold && fold.querySelector('summary') || document.querySelector('h1')
  const about = pairs.filter(([k, v]) => v && ['dam', 'egg', 'hatchling', 'box', 'newbox'].includes(k)).map(([, v]) => v)
  return [heading.textContent.trim(), ...new Set(about)].join(' ')
}

addEventListener('sent', event => { // what waited is this very form
  for (const form of document.querySelectorAll('form.keep')) {
    if (form.elements.clock && form.elements.key.value === event.detail.key) location.replace(event.detail.url)
  }
})

function stamp(form, now) {
  const f = form.elements
  f.clock.value = 'phone'
  f.instant.value = iso(now)
  f.at.value = f.shown.value = local(now)
}

// instant is the moment the form's time means.
function instant(form) {
  const f = form.elements
  return new Date(f.at.value === f.shown.value ? f.instant.value : f.at.value)
}

function whose(form) {
  const f = form.elements
  if (f.clock.value !== 'phone') return
  const at = instant(form), out = form.querySelector('.whose')
  let text = "This device's time."
  const offset = Number(form.dataset.offset)
  if (!isNaN(at) && offset !== -60 * at.getTimezoneOffset()) {
    text = `This device's time; where the station is, ${new Date(at.getTime() + 1000 * offset).toISOString().slice(0, 16).replace('T', ' ')}.`
  }
  out.textContent = text
}

function again(form, pairs) {
  const left = new Map()
  for (const [k, v] of pairs) left.set(k, [...(left.get(k) || []), v])
  for (const e of [...form.elements]) {
    if (!e.name) continue
    const values = left.get(e.name) || []
    if (e.type === 'radio' || e.type === 'checkbox') {
      e.checked = values.includes(e.value)
      if (e.checked) values.splice(values.indexOf(e.value), 1)
    } else if (values.length) e.value = values.shift()
  }
  for (const [k, values] of left) for (const v of values) { // a slot or a look it knew of then
    if (form.elements[k]) continue
    const e = Object.assign(document.createElement('input'), { type: 'hidden', name: k, value: v })
    form.append(e)
  }
  form.fixed = true
  const fresh = Object.assign(document.createElement('button'), { type: 'button', textContent: 'Start again' })
  fresh.addEventListener('click', () => {
    drafts.drop(form)
    waiting.drop(form.elements.key.value)
    history.replaceState(null, '', location.pathname + location.search)
    location.reload()
  })
  say(form, 'Typed before and not sent: here it is again. ', fresh)
}

function say(form, ...what) { fill(form.querySelector('.said'), what) }

async function send(form, button) {
  const f = form.elements, now = new Date(), timed = f.clock
  if (timed && f.clock.value === 'phone') {
    if (!form.fixed && f.at.value === f.shown.value) stamp(form, now)
    else if (f.at.value !== f.shown.value) {
      f.instant.value = iso(new Date(f.at.value))
      f.shown.value = f.at.value
    }
    f.sent.value = iso(now)
  }
  form.fixed = true
  const body = new URLSearchParams(new FormData(form))
  if (timed) drafts.write(form, [...body])
  form.sending = true
  say(form, 'Sending...')
  let answer, text
  try {
    answer = await fetch(form.action, { method: 'POST', body, signal: deadline(20000) })
    text = await answer.text()
  } catch {
    const pairs = [...body]
    const item = timed && { key: f.key.value, name: drafts.name(form), title: titleOf(form, pairs), action: form.action, page: location.pathname + location.search, pairs }
    if (item && waiting.add(item)) {
      drafts.drop(form)
      answered(form, button, 'No connection: kept here, and sent when the station answers.')
      return
    }
    answered(form, button, timed ? 'No connection: kept here. Send it again when you are back.' : 'No connection: nothing was changed. Try again when you are back.')
    return
  }
  if (isNoted(answer)) { // on the way it is not sent again
    drafts.drop(form)
    if (timed) waiting.drop(f.key.value)
    location.replace(answer.url)
    return
  }
  const html = /^text\/html/.test(answer.headers.get('Content-Type'))
  const page = html && new DOMParser().parseFromString(text, 'text/html').querySelector('main')
  const here = page && page.querySelector('form.keep')
  if (here || page && answer.status === 401) {
    if (here) { // the page that came has it, and says why
      drafts.drop(form)
      if (timed) waiting.drop(f.key.value)
    }
    page.querySelectorAll('script').forEach(s => s.remove())
    document.querySelector('main').replaceWith(page)
    page.querySelectorAll('form.keep').forEach(begin)
    scrollTo(0, 0)
    const alert = page.querySelector('[role=alert]')
    if (alert) alert.focus()
    return
  }
  const first = page && page.querySelector('p')
  answered(form, button, 'Not noted. ' + (first && first.textContent || text).slice(0, 300))
}

function answered(form, button, text) {
  form.sending = false
  say(form, text)
  if (button) button.focus()
}
