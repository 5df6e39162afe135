package setup

import (
	"os"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
)

// The station's files are checked in a child of this program.
func TestMain(m *testing.M) {
	daemon.RunFileCheck()
	os.Exit(m.Run())
}
