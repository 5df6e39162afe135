package daemon

import (
	"os"
	"runtime/debug"
)

// memoryLimit is the memory, in bytes, from which the garbage collector works harder. It
// lies under MemoryMax of the unit: 40 MB stay for mapped files, which the kernel counts
// too (our choice). The unit sets the same limit.
const memoryLimit = 120 << 20

// limitMemory sets the memory limit unless the environment sets GOMEMLIMIT.
func limitMemory() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryLimit)
	}
}

// startingGCPercent lets a starting station collect its garbage less often: that is a tenth of
// its time on a slow machine, and little memory is in use yet (our choice).
const startingGCPercent = 400

// startingMemoryLimit is the memory, in bytes, from which even a starting station collects it
// (our choice): with the largest book a start took 157 MB at 120 MiB.
const startingMemoryLimit = 96 << 20

// collectLess collects garbage less often until it is undone.
func collectLess() (undo func()) {
	percent, limit := debug.SetGCPercent(startingGCPercent), debug.SetMemoryLimit(-1)
	debug.SetMemoryLimit(min(limit, startingMemoryLimit))
	return func() {
		debug.SetGCPercent(percent)
		debug.SetMemoryLimit(limit)
	}
}

// jobsGCPercent is the growth of the heap between two collections while jobs run (our choice):
// with the usual 100 three seasons of a dozen probes came to 50 MB, of which half was garbage.
const jobsGCPercent = 50

// collectMore collects garbage more often until it is undone. Then what is free goes back to
// the system at once: else the memory that jobs took stays with the program for minutes.
func collectMore() (undo func()) {
	before := debug.SetGCPercent(jobsGCPercent)
	return func() {
		debug.SetGCPercent(before)
		debug.FreeOSMemory()
	}
}
