// Brings an open page up to date in place, when the station says that something changed and
// once a minute. Focus, scroll, what is unfolded and what is typed stay. If the station does
// not answer, the page stays, turns grey and says since when; a page of a form or of what was
// does that alone, and is not changed. Without this script, the first page and an alarm's page
// are loaded again each minute.
'use strict'

document.body.hasAttribute('data-live') && (() => {
  const minute = 60000, retry = 10000 // between two tries while all is well, and while nothing answers
  const here = location.pathname + location.search
  const kept = document.documentElement.dataset.kept // this page comes from this device, of that time
  const watches = document.body.dataset.live === 'watch'
  const touched = new WeakSet() // forms that somebody types into
  const sources = new WeakMap() // what a drawing was before a script made it readable
  let tag = '', answered = kept ? Number(kept) : Date.now(), tried = Date.now()
  let gone = null, busy = false, again = false, events = null

  remember(document)
  document.addEventListener('input', event => { if (event.target.form) touched.add(event.target.form) })
  document.addEventListener('submit', event => {
    if (!gone || event.target.matches('.keep') || event.target.method === 'get') return
    event.preventDefault() // else the browser's own page would take this one's place
    say(' Nothing was changed: try again when it answers.')
  })
  document.addEventListener('visibilitychange', watch)
  addEventListener('pagehide', close)
  addEventListener('pageshow', event => { if (event.persisted) watch() })
  addEventListener('online', update)
  addEventListener('offline', update)
  addEventListener('sent', update) // what waited on this device is in the book now
  setInterval(() => { if (!document.hidden && Date.now() - tried >= (gone ? retry : minute)) update() }, 5000)
  watch()
  if (kept) { lose(); update() }

  // watch holds a stream while the page is looked at. A browser opens few connections to a host.
  function watch() {
    close()
    if (document.hidden) return
    if (Date.now() - tried > retry) update()
    if (!window.EventSource) return
    events = new EventSource('/events')
    events.addEventListener('change', update)
    events.addEventListener('error', update) // gone, or its session has ended
  }

  function close() {
    if (events) events.close()
    events = null
  }

  async function update() {
    if (busy) { again = true; return }
    busy = true
    tried = Date.now()
    try {
      const headers = { Accept: 'text/html' }
      if (tag) headers['If-None-Match'] = tag
      const answer = await fetch(here, { method: watches ? 'HEAD' : 'GET', headers, cache: 'no-store', signal: AbortSignal.timeout ? AbortSignal.timeout(15000) : undefined })
      if (watches) {
        if (answer.status >= 500) throw new Error('no answer of the station')
      } else if (answer.redirected && new URL(answer.url).pathname === '/login') leave()
      else if (answer.status !== 304) {
        const page = new DOMParser().parseFromString(await answer.text(), 'text/html')
        if (!answer.ok || !page.body.hasAttribute('data-live')) throw new Error('no page of the station')
        tag = answer.headers.get('ETag') || ''
        show(page)
      }
      back()
    } catch {
      lose()
    }
    busy = false
    if (again) { again = false; setTimeout(update, 1000) }
  }

  // leave goes to the passphrase: the session has ended. What is being typed stays: it comes
  // back after the passphrase when it is sent.
  function leave() {
    if (![...document.forms].some(form => touched.has(form))) location.replace('/login?' + new URLSearchParams({ to: here }))
  }

  function lose() {
    if (!gone) {
      gone = document.createElement('p')
      gone.className = 'gone'
      gone.setAttribute('role', 'status')
      document.documentElement.classList.add('away')
      document.body.prepend(gone)
      close()
    }
    say('')
  }

  function say(more) {
    const since = new Date(answered), now = new Date()
    const day = since.toDateString() === now.toDateString() ? {} : { weekday: 'long', day: 'numeric', month: 'long' }
    const text = `No answer from the station since ${since.toLocaleString(window.language, { ...day, hour: 'numeric', minute: '2-digit' })}. ${watches && document.querySelector('form.keep') ? 'What you note here waits on this device.' : `What you see is ${shown()}.`}${more}`
    if (gone.textContent !== text) gone.textContent = text
  }

  function shown() {
    const at = document.querySelector('.at time')
    return at ? `as of ${at.textContent}` : 'from then'
  }

  function back() {
    answered = Date.now()
    if (!gone) return
    gone.remove()
    gone = null
    document.documentElement.classList.remove('away')
    watch()
    dispatchEvent(new Event('answers'))
  }

  function show(page) {
    if (window.localise) window.localise(page.body)
    const focus = document.activeElement
    document.title = page.title
    for (const part of ['.mast', 'main', 'footer']) {
      const was = document.querySelector(part), is = page.querySelector(part)
      if (was && is) morph(was, document.adoptNode(is))
    }
    if (focus !== document.activeElement && focus.isConnected) focus.focus({ preventScroll: true })
  }

  // remember keeps what drawings were before another script changes them.
  function remember(within) {
    for (const figure of within.querySelectorAll('figure.plot')) sources.set(figure, figure.outerHTML)
  }

  // fresh tells the other scripts of what is new.
  function fresh(node) {
    if (node.nodeType !== Node.ELEMENT_NODE) return
    for (const e of [node, ...node.querySelectorAll('figure.plot, form.keep, details[data-fold]')]) {
      if (!e.matches('figure.plot, form.keep, details[data-fold]')) continue
      if (e.matches('figure.plot')) sources.set(e, e.outerHTML)
      e.dispatchEvent(new Event('fresh', { bubbles: true }))
    }
  }

  function replace(was, is) {
    was.replaceWith(is)
    fresh(is)
  }

  // key is what an element is recognised by among its neighbours.
  function key(node) {
    if (node.nodeType !== Node.ELEMENT_NODE) return ''
    const own = node.id || node.dataset.fold || node.getAttribute('aria-labelledby') || node.getAttribute('href')
    if (own) return node.localName + ' ' + own
    if (!['li', 'article', 'div', 'p', 'tr'].includes(node.localName)) return ''
    const link = node.querySelector('a[href], [id]')
    return link ? node.localName + ' ' + (link.id || link.getAttribute('href')) : ''
  }

  function inUse(form) {
    const fold = form.closest('details')
    return form.sending || touched.has(form) || form.contains(document.activeElement) || fold && fold.open
  }

  // morph makes one node like another and leaves alone what is the same.
  function morph(was, is) {
    if (was.isEqualNode(is)) return
    if (was.nodeType !== is.nodeType || was.nodeName !== is.nodeName) return replace(was, is)
    if (was.nodeType !== Node.ELEMENT_NODE) { was.nodeValue = is.nodeValue; return }
    if (was.matches('figure.plot')) {
      if (sources.get(was) !== is.outerHTML && !was.contains(document.activeElement)) replace(was, is)
      return
    }
    if (was.matches('form') && inUse(was)) return
    if (was.matches('form.keep')) return replace(was, is)
    for (const { name } of [...was.attributes]) {
      if (!is.hasAttribute(name) && name !== 'open' && name !== 'data-was') was.removeAttribute(name)
    }
    for (const { name, value } of is.attributes) {
      if (was.getAttribute(name) !== value && name !== 'open') was.setAttribute(name, value)
    }
    children(was, is)
  }

  function children(was, is) {
    const known = new Map()
    for (const child of was.childNodes) {
      const k = key(child)
      if (k && !known.has(k)) known.set(k, child)
    }
    const wanted = [...is.childNodes].map(key)
    let at = was.firstChild
    for (const [i, next] of [...is.childNodes].entries()) {
      const k = wanted[i]
      let match = k ? known.get(k) : at && !key(at) && at.nodeName === next.nodeName ? at : null
      if (k) known.delete(k)
      if (!match) {
        was.insertBefore(next, at)
        fresh(next)
        continue
      }
      // What stands before the match goes, and comes back where it is wanted: the match itself
      // never moves, so that it keeps its focus.
      if (match.parentNode === was) {
        while (at !== match) { const left = at; at = at.nextSibling; left.remove() }
        at = at.nextSibling
      } else was.insertBefore(match, at)
      morph(match, next)
    }
    while (at) { const left = at; at = at.nextSibling; left.remove() }
  }
})()
