// Package track owns what eggs that stayed together have felt: the groups of a book,
// their exposure, their time beyond the limits of their species, and the days of the
// places where they lie. The same code follows readings as they arrive and rebuilds
// from stored ones, so that the two cannot differ. It must not know where readings are
// stored, how alarms are raised or what a forecast is.
//
// # Decisions
//
//   - A span longer than ten minutes, or than two polls where polls are further apart,
//     was not measured: it is a gap with its bounds. The trapezoid between its ends
//     bridges it, and the window says so.
//   - Before eggs are placed nothing was measured. That time is a gap as warm as their
//     first day in the box (our assumption).
//   - Eggs in a box without a probe feel the median of the zone's believed probes. That
//     they may differ widens the window.
//   - A box's offset is part of its stay: it is added to live readings, in a rebuild and
//     to the climate that is expected.
//   - Each track follows the time beyond the bands of each species among its waiting
//     eggs. It is rebuilt from the readings after a start; readings that were trimmed are
//     not in it.
package track
