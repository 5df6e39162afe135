// Keeps the last state of the pages that were looked at, and the forms, for when the station
// does not answer. A page that is kept says so (data-kept), with the time it is from. The
// passphrase and the logout delete what is kept.
'use strict'

const pages = 'pages', files = 'files'
const most = 80 // pages that are kept; our choice
const patience = 8000 // ms for the station to answer, where a page is kept; our choice
let silent = 0 // when a page last got no answer
const stale = 12 * 3600e3 // ms after which the forms are fetched again; our choice
const fileNames = ['/style.css', '/label.css', '/label-sheet.css', '/form.js', '/fold.js', '/live.js', '/locale.js', '/waiting.js', '/chart.js',
  '/icon.svg', '/icon-192.png', '/icon-512.png', '/manifest.webmanifest']

addEventListener('install', event => {
  skipWaiting()
  event.waitUntil(caches.open(files).then(c => c.addAll(fileNames)))
})
addEventListener('activate', event => event.waitUntil(clients.claim()))

addEventListener('fetch', event => {
  const { request } = event, url = new URL(request.url)
  if (url.origin !== location.origin) return
  if (url.pathname === '/login' || url.pathname === '/logout') {
    event.waitUntil(caches.delete(pages))
    return
  }
  if (request.method !== 'GET') return
  if (fileNames.includes(url.pathname)) event.respondWith(file(event))
  else if (request.mode === 'navigate') event.respondWith(page(event))
  else if (request.headers.get('Accept') === 'text/html') event.respondWith(update(event))
})

async function file(event) {
  const kept = await caches.match(event.request, { cacheName: files })
  if (kept && Date.now() - silent < patience) return kept
  try {
    const answer = await soon(fetch(event.request), kept), copy = answer.clone()
    if (answer.ok) event.waitUntil(caches.open(files).then(c => c.put(event.request, copy)))
    return answer
  } catch {
    return kept || Response.error()
  }
}

async function page(event) {
  const kept = await caches.match(event.request.url, { cacheName: pages })
  try {
    return await soon(fetch(event.request).then(answer => { keep(event, event.request.url, answer); return answer }), kept)
  } catch {
    silent = Date.now()
    return kept ? old(kept) : nothing()
  }
}

// soon is what was asked for. It fails where the station is silent and something is kept.
function soon(asked, kept) {
  asked.catch(() => { /* the kept page was faster */ })
  return kept ? Promise.race([asked, new Promise((_, no) => setTimeout(no, patience))]) : asked
}

// update is what an open page asks for: it must learn that the station is away.
async function update(event) {
  const answer = await fetch(event.request)
  if (answer.redirected && new URL(answer.url).pathname === '/login') event.waitUntil(caches.delete(pages))
  else keep(event, event.request.url, answer)
  return answer
}

// keep keeps a page, and with the first page the forms.
function keep(event, url, answer) {
  const at = new URL(url)
  if (answer.status !== 200 || answer.redirected || at.searchParams.has('noted') || !/^text\/html/.test(answer.headers.get('Content-Type'))) return
  const copy = answer.clone()
  event.waitUntil((async () => {
    await put(at, copy)
    if (at.pathname === '/') await keepForms()
  })())
}

async function put(url, answer) {
  const headers = new Headers(answer.headers)
  headers.set('X-Kept', String(Date.now()))
  headers.delete('Content-Encoding')
  const cache = await caches.open(pages)
  await cache.put(url.href.split('#')[0], new Response(await answer.text(), { headers }))
  const keys = await cache.keys() // the oldest first
  for (const k of keys.slice(0, Math.max(0, keys.length - most))) await cache.delete(k)
}

async function keepForms() {
  const list = await caches.match(new URL('/note', location).href, { cacheName: pages })
  if (list && Date.now() - Number(list.headers.get('X-Kept')) < stale) return
  const take = async path => {
    const answer = await fetch(path, { headers: { Accept: 'text/html' } })
    if (!answer.ok || answer.redirected) return ''
    const text = await answer.clone().text()
    await put(new URL(path, location), answer)
    return text
  }
  const text = await take('/note')
  for (const link of text.match(/href="\/note\/[a-z-]+"/g) || []) await take(link.slice(6, -1))
}

// old is a page that was kept, marked with its time.
async function old(kept) {
  const text = (await kept.text()).replace('<html ', `<html data-kept="${Number(kept.headers.get('X-Kept'))}" `)
  return new Response(text, { headers: kept.headers })
}

function nothing() {
  const text = '<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>No answer</title><link rel="stylesheet" href="/style.css"><main><h1>No answer from the station</h1><p>This page was not kept on this device.</p><p><a href="/">To the first page</a></p></main></html>'
  return new Response(text, { status: 503, headers: { 'Content-Type': 'text/html; charset=utf-8', 'Content-Security-Policy': "default-src 'self'" } })
}
