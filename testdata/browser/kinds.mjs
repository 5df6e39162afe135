// The addresses of a station's pages: one of each kind that a link leads to. forms.mjs looks at
// every form.
export async function kinds(base) {
  const pages = ['/', '/search?q=a', '/labels']
  const kind = path => path.split('?')[0].split('/').map((part, i) => i < 2 ? part : '*').join('/')
  const known = new Set(pages.map(kind))
  for (const path of pages) { // it grows
    const html = await (await fetch(new URL(path, base))).text()
    for (const [, href] of html.matchAll(/ href="(\/[^"#]*)/g)) {
      if (/^\/(api|calendar)\/|\.[a-z0-9]+$/.test(href) || known.has(kind(href))) continue
      known.add(kind(href))
      pages.push(href.replaceAll('&amp;', '&'))
    }
  }
  return pages
}
