// Package forecast owns the hatch windows of a book: what is believed of each kind of
// egg in this house, what its eggs have felt, and what follows for their hatch. It is
// pure: a House in, a Forecast out. It must not know where readings and windows are
// stored, how alarms are raised or how a window is shown.
package forecast
