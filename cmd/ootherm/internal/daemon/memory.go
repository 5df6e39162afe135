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

// collectLess collects garbage less often until it is undone.
func collectLess() (undo func()) {
	before := debug.SetGCPercent(startingGCPercent)
	return func() { debug.SetGCPercent(before) }
}
