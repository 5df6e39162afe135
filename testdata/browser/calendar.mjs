// Reads a calendar on stdin with an independent parser and prints what each event asks for,
// one a line: task, first day, the day after the last. A task is a line of the description
// up to its first point.
import ICAL from 'ical.js'

let text = ''
for await (const part of process.stdin) text += part
const calendar = new ICAL.Component(ICAL.parse(text))
for (const part of calendar.getAllSubcomponents('vevent')) {
  const e = new ICAL.Event(part)
  if (!e.startDate.isDate || !e.endDate.isDate) throw new Error(`${e.uid} is no event of whole days`)
  for (const task of e.description.split('\n'))
    console.log([task.split('. ')[0].replace(/\.$/, ''), e.startDate.toString(), e.endDate.toString()].join('|'))
}
