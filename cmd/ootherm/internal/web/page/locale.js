// Writes the hours and the days of a page as the browser's language does: 2:30 PM for 14:30,
// and, where the kind of English has the month first, June 9 for 9 June. Other languages keep
// the English days, as the words around them are English. Times stay those of the station's
// place.
'use strict';

(() => {
  const language = window.language = known(navigator.language) // for the scripts after this one
  const clock = new Intl.DateTimeFormat(language, { hour: 'numeric', minute: '2-digit', timeZone: 'UTC' })
  const hour = new Intl.DateTimeFormat(language, { hour: 'numeric', timeZone: 'UTC' })
  const day = new Intl.DateTimeFormat(language, { day: 'numeric', month: 'long', timeZone: 'UTC' })
  const twelve = clock.resolvedOptions().hour12
  const monthFirst = /^en\b/.test(language) && day.format(Date.UTC(2026, 5, 9)).startsWith('June')
  const months = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']
  const names = months.join('|') + '|' + months.map(m => m.slice(0, 3)).join('|')
  const date = new RegExp(`\\b([12]?\\d|3[01])([-\u2013][123]?\\d)?([ \u00a0])(${names})\\b(?:[ \u00a0](\\d{4})\\b)?(?=([ \u00a0]\\d\\d:)?)`, 'g') // 7-18 January 2026, and whether a time follows
  // What a person is to type, 2026-06-01T08:00, stays.
  const time = /(^|[^\d:.T])([01]\d|2[0-3]):([0-5]\d)(?!:?\d)/g

  window.localise = twelve || monthFirst ? localise : () => {}
  window.localise(document.body)

  // A browser without a language of its own may give the name of a system's, "en-US@posix".
  function known(name) {
    try {
      return Intl.getCanonicalLocales(name)[0] || 'en-GB'
    } catch {
      return 'en-GB'
    }
  }

  function localise(within) {
    const walk = document.createTreeWalker(within, NodeFilter.SHOW_TEXT)
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      const parent = node.parentElement
      if (!/\d/.test(node.nodeValue) || parent.closest('script, style, textarea, input, select')) continue
      const text = inLanguage(node.nodeValue, parent.closest('svg'))
      if (text !== node.nodeValue) node.nodeValue = text
    }
    for (const e of within.querySelectorAll('[aria-label]')) {
      const said = e.getAttribute('aria-label')
      if (/\d/.test(said)) e.setAttribute('aria-label', inLanguage(said))
    }
  }

  function inLanguage(text, narrow) {
    if (monthFirst) text = text.replace(date, (_, from, to, space, month, year, time) => `${month}\u00a0${from}${to || ''}${year ? ', ' + year : ''}${time ? ',' : ''}`)
    if (!twelve) return text
    const space = narrow ? '' : '\u00a0' // before AM and PM: an axis has little room, and a line must not break there
    return text.replace(time, (_, before, h, m) => before + (narrow && m === '00' ? hour : clock).format(Date.UTC(2024, 0, 1, h, m)).replace(/\s/g, space))
  }
})()
