// Reads a calendar on stdin with an independent parser and prints its events,
// one a line: summary, first day, the day after the last.
import ICAL from 'ical.js'

let text = ''
for await (const part of process.stdin) text += part
const calendar = new ICAL.Component(ICAL.parse(text))
for (const part of calendar.getAllSubcomponents('vevent')) {
  const e = new ICAL.Event(part)
  if (!e.startDate.isDate || !e.endDate.isDate) throw new Error(`${e.uid} is no event of whole days`)
  console.log([e.summary, e.startDate.toString(), e.endDate.toString()].join('|'))
}
