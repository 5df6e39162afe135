// Package track owns what eggs that stayed together have felt: the groups of a book,
// their exposure, their time beyond the limits of their species, and the days of the
// places where they lie. The same code follows readings as they arrive and rebuilds
// from stored ones, so that the two cannot differ. It must not know where readings are
// stored, how alarms are raised or what a forecast is.
package track
