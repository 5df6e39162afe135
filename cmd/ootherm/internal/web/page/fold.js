// Keeps what was opened on a page open when the page is loaded again. It is kept for this tab
// alone. Without it the page folds.
'use strict'

const kept = 'open ' + location.pathname

let open = {}
try { open = JSON.parse(sessionStorage.getItem(kept)) || {} } catch { /* a browser that keeps nothing */ }
for (const d of document.querySelectorAll('details[data-fold]')) keepFold(d)
document.addEventListener('fresh', event => { if (event.target.matches('details')) keepFold(event.target) })

function keepFold(d) {
  if (typeof open[d.dataset.fold] === 'boolean') d.open = open[d.dataset.fold]
  d.dataset.was = d.open
  d.addEventListener('toggle', () => {
    if (String(d.open) === d.dataset.was) return // what was set above, not a hand
    d.dataset.was = d.open
    open[d.dataset.fold] = d.open
    try { sessionStorage.setItem(kept, JSON.stringify(open)) } catch { /* it folds the next time */ }
  })
}
