// Keeps on this device what was noted while the station did not answer, says what waits, and
// sends each once when the station answers. A form's key makes sure that the book has it once,
// however often it is sent. It also has the browser keep pages for when the station is away.
'use strict'

const waiting = (() => {
  const name = 'waiting', pause = 30000 // between two tries
  const at = document.documentElement.dataset.kept // this page comes from this device, of that time
  let bar = null, sending = false, sent = []

  addEventListener('online', send)
  addEventListener('answers', send) // an open page had an answer again
  addEventListener('storage', event => { if (event.key === name) show() })
  setInterval(() => { if (!document.hidden && all().some(x => !x.fault)) send() }, pause)
  if (navigator.serviceWorker) navigator.serviceWorker.register('/worker.js').catch(() => { /* without it, pages need the station */ })
  show()
  send()
  return { add, drop, find: key => all().find(x => x.key === key), all }

  function all() {
    try { return JSON.parse(localStorage.getItem(name)) || [] } catch { return [] }
  }

  function store(list) {
    try { localStorage.setItem(name, JSON.stringify(list)) } catch { return false }
    show()
    return true
  }

  // add keeps a form: its key, title, address, page and answers. It is false where the browser
  // keeps nothing.
  function add(item) { return store([...all().filter(x => x.key !== item.key), { ...item, at: Date.now() }]) }
  function drop(key) { if (all().some(x => x.key === key)) store(all().filter(x => x.key !== key)) }

  async function send() {
    if (sending) return
    sending = true
    try {
      for (const item of all()) if (!item.fault && !await one(item)) break
    } finally {
      sending = false
    }
  }

  // one sends what waits. It is false where the next one would fare no better.
  async function one(item) {
    const now = new Date().toISOString().replace(/\.\d+/, '')
    const body = new URLSearchParams(item.pairs.map(([k, v]) => k === 'sent' && v ? [k, now] : [k, v]))
    let answer, text
    try {
      answer = await fetch(item.action, { method: 'POST', body, signal: deadline(20000) })
      text = await answer.text()
    } catch {
      return false
    }
    if (isNoted(answer)) {
      sent = [...sent, item]
      drop(item.key)
      dispatchEvent(new CustomEvent('sent', { detail: { key: item.key, url: answer.url } }))
      return true
    }
    const page = /^text\/html/.test(answer.headers.get('Content-Type')) && new DOMParser().parseFromString(text, 'text/html').querySelector('main')
    if (answer.status >= 500 || answer.status === 401 || answer.ok && !(page && page.querySelector('form.keep'))) {
      show(answer.status === 401) // the station starts, or asks who this is, or it is another's page
      return false
    }
    const alert = page && page.querySelector('[role=alert]'), fault = alert ? alert.textContent : text
    store(all().map(x => x.key === item.key ? { ...x, fault: fault.trim().slice(0, 300) } : x))
    return true
  }

  function clock(ms) { return new Date(ms).toLocaleString(window.language, { day: 'numeric', month: 'short', hour: 'numeric', minute: '2-digit' }) }
  function element(tag, text, more) { return Object.assign(document.createElement(tag), { textContent: text, ...more }) }

  function show(locked) {
    const list = all(), held = list.filter(x => !x.fault), rows = []
    if (at && !document.body.hasAttribute('data-live')) rows.push(element('p', `No answer from the station. This page is from ${clock(Number(at))}. What you note here waits on this device.`))
    if (held.length) {
      const text = (held.length === 1 ? '1 note waits' : `${held.length} notes wait`) + ' on this device until the station answers: ' + held.map(x => `${x.title}, ${clock(x.at)}`).join('; ') + '.'
      const row = element('p', text + ' ')
      const now = element('button', 'Send now', { type: 'button' })
      now.addEventListener('click', send)
      row.append(locked ? element('a', 'The station asks for the passphrase', { href: '/login?' + new URLSearchParams({ to: location.pathname + location.search }) }) : now)
      rows.push(row)
    }
    for (const x of list.filter(x => x.fault)) {
      const row = element('p', `Not noted: ${x.title}, ${clock(x.at)}. ${x.fault} `)
      const no = element('button', 'Drop it', { type: 'button' })
      no.addEventListener('click', () => drop(x.key))
      row.append(element('a', 'Open it', { href: `${x.page}#waiting=${x.key}`, className: 'door' }), ' ', no)
      rows.push(row)
    }
    if (sent.length) rows.push(element('p', `Noted now: ${sent.map(x => `${x.title}, ${clock(x.at)}`).join('; ')}.`))
    if (!bar && !rows.length) return
    if (!bar) {
      bar = element('section', '', { className: 'waiting' })
      bar.setAttribute('role', 'status')
      document.querySelector('main').before(bar)
    }
    bar.hidden = !rows.length
    fill(bar, rows)
  }
})()

// fill gives an element other content.
function fill(element, what) {
  element.textContent = ''
  element.append(...what)
}

// deadline ends a request after so many milliseconds, where the browser can.
function deadline(ms) { return AbortSignal.timeout ? AbortSignal.timeout(ms) : undefined }

// isNoted reports whether an answer says that the book has a form. The station's own page
// alone says so: a network that asks for a login of its own answers with a page too.
function isNoted(answer) {
  const to = new URL(answer.url, location)
  return answer.redirected && to.origin === location.origin && /^\/(note|[bcdepsz])\b/.test(to.pathname) && to.searchParams.has('noted')
}
