// Package clock reads the machine's clocks and decides when the present boot began. It
// owns the boot's identity, its uptime and its date. It must not know what a station does
// with them.
//
// The station measures all time as uptime. The wall clock of a Pi without a clock chip
// starts at some past time and steps once the network answers. So the wall clock serves
// only to date the boot: see [Dating].
package clock

import "time"

// Reading holds the values of all clocks at one instant.
type Reading struct {
	Wall         time.Time
	Uptime       time.Duration // since the boot, sleep included (CLOCK_BOOTTIME)
	Synchronised bool          // the kernel's clock follows a time source
	Bound        time.Duration // the kernel's limit of the error of Wall, if synchronised
}
