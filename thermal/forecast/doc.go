// Package forecast owns the hatch windows of a book: what is believed of each kind of
// egg in this house, what its eggs have felt, and what follows for their hatch. It is
// pure: a House in, a Forecast out. It must not know where readings and windows are
// stored, how alarms are raised or how a window is shown.
//
// # Decisions
//
//   - A group is one clutch's eggs in one box. It teaches once none of its eggs waits.
//     What is believed of a group starts from its profile. Every other species that has
//     hatched here adds the offset of the house alone, which is exact for a shared offset
//     between independent species. Then each hatched group of its own species but itself
//     teaches it, more where the dam is the same.
//   - A clutch that is late has no window.
package forecast
