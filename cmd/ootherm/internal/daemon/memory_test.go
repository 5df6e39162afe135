package daemon

import (
	"fmt"
	"os"
	"regexp"
	"runtime/debug"
	"strconv"
	"testing"
)

func TestMemoryLimit(t *testing.T) {
	before := debug.SetMemoryLimit(-1)
	defer debug.SetMemoryLimit(before)
	t.Setenv("GOMEMLIMIT", "1GiB")
	limitMemory()
	if got := debug.SetMemoryLimit(-1); got != before {
		t.Errorf("with GOMEMLIMIT the limit changed from %d to %d", before, got)
	}
	t.Setenv("GOMEMLIMIT", "")
	limitMemory()
	if got := debug.SetMemoryLimit(-1); got != memoryLimit {
		t.Errorf("the limit is %d, want %d", got, memoryLimit)
	}
}

// However the station ends, the service manager starts it again: an end by SIGHUP or SIGPIPE is
// no failure to it (systemd.service(5), SuccessExitStatus).
func TestUnitRestartsTheStation(t *testing.T) {
	unit, err := os.ReadFile("../../../../deploy/ootherm.service")
	if err != nil {
		t.Fatal(err)
	}
	if !regexp.MustCompile(`(?m)^Restart=always$`).Match(unit) {
		t.Error("the unit has no line Restart=always")
	}
}

// The unit sets the program's own limit, under the memory at which the kernel ends it.
func TestUnitLimitsMemory(t *testing.T) {
	unit, err := os.ReadFile("../../../../deploy/ootherm.service")
	if err != nil {
		t.Fatal(err)
	}
	if want := fmt.Sprintf(`(?m)^Environment=GOMEMLIMIT=%dMiB$`, memoryLimit>>20); !regexp.MustCompile(want).Match(unit) {
		t.Errorf("the unit has no line %s", want)
	}
	found := regexp.MustCompile(`(?m)^MemoryMax=(\d+)M$`).FindSubmatch(unit)
	if found == nil {
		t.Fatal("the unit has no MemoryMax in M")
	}
	most, err := strconv.Atoi(string(found[1]))
	if err != nil || most<<20 < memoryLimit+40<<20 {
		t.Errorf("MemoryMax is %d M (%v), and the limit %d", most, err, memoryLimit)
	}
}
