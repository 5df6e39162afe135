// Package clock tells which boot this is, how long it has run, what the wall
// clock says and whether to believe it; and from that, when the boot began.
//
// Everything the station reckons with is uptime. The wall clock of a Pi without
// a clock chip starts at some past time and steps once the network answers, so
// it is only ever used to date the boot: see [Dating].
package clock

import "time"

// Reading is one look at the clocks, all at the same instant.
type Reading struct {
	Wall         time.Time
	Uptime       time.Duration // CLOCK_BOOTTIME: since the boot, sleep included
	Synchronised bool          // the kernel's clock is being held to a time source
	Bound        time.Duration // how wrong Wall may be if synchronised, by the kernel's reckoning
}
