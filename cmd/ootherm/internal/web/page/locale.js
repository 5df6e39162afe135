// Writes the hours and the days of a page as the browser's language does: 2:30 PM for 14:30,
// June 9 for 9 June. The words of a page are English, so that days change for the kinds of
// English alone; the hour's form is every language's. Times stay those of the station's place.
'use strict';

(() => {
  const language = navigator.language || 'en-GB'
  const utc = { timeZone: 'UTC' }
  const clock = new Intl.DateTimeFormat(language, { hour: 'numeric', minute: '2-digit', ...utc })
  const hour = new Intl.DateTimeFormat(language, { hour: 'numeric', ...utc })
  const twelve = clock.resolvedOptions().hour12
  const english = /^en\b/.test(language)
  const days = {}
  for (const month of ['long', 'short']) {
    for (const year of [true, false]) days[month + year] = new Intl.DateTimeFormat(language, { day: 'numeric', month, ...(year && { year: 'numeric' }), ...utc })
  }
  const months = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']
  const name = months.join('|') + '|' + months.map(m => m.slice(0, 3)).join('|')
  const date = new RegExp(`\\b([12]?\\d|3[01]) (${name})(?: (\\d{4}))?\\b`, 'g')
  const time = /(^|[^\d:.-])([01]\d|2[0-3]):([0-5]\d)(?![\d:])/g
  const changes = twelve || english && days.longfalse.format(Date.UTC(2026, 5, 9)) !== '9 June'

  window.localise = changes ? localise : () => {}
  window.localise(document.body)

  function localise(within) {
    const walk = document.createTreeWalker(within, NodeFilter.SHOW_TEXT)
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      const parent = node.parentElement
      if (!/\d/.test(node.nodeValue) || parent.closest('script, style, textarea, input, select')) continue
      const text = inLanguage(node.nodeValue, parent.closest('svg'))
      if (text !== node.nodeValue) node.nodeValue = text
    }
    for (const e of within.querySelectorAll('[aria-label], svg title')) {
      const said = e.getAttribute('aria-label')
      if (said && /\d/.test(said)) e.setAttribute('aria-label', inLanguage(said))
    }
  }

  function inLanguage(text, narrow) {
    if (english) {
      text = text.replace(date, (_, day, month, year) => {
        const at = Date.UTC(year || 2024, months.findIndex(m => m.startsWith(month.slice(0, 3))), day)
        return days[(month.length > 3 || month === 'May' && !narrow ? 'long' : 'short') + Boolean(year)].format(at)
      })
    }
    if (!twelve) return text
    return text.replace(time, (_, before, h, m) => before + (narrow && m === '00' ? hour : clock).format(Date.UTC(2024, 0, 1, h, m)))
  }
})()
