// The browser that the programs beside this file drive: CHROMIUM, else the build
// of Chromium that has no window (half the work of the other), else Chromium.
import { existsSync } from 'node:fs'
import { chromium } from 'playwright-core'

export function launch(...more) {
  const found = ['/usr/bin/chromium-headless-shell', '/usr/bin/chromium'].find(existsSync)
  return chromium.launch({
    executablePath: process.env.CHROMIUM || found || 'chromium',
    // One process draws all pages: a new one for each page costs more than the page. On two
    // cores, threads that compile and collect beside the page cost more than they save.
    args: ['--js-flags=--single-threaded', '--process-per-site', '--renderer-process-limit=2', '--no-sandbox', '--disable-gpu', '--disable-quic',
      '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync', ...more],
  })
}
