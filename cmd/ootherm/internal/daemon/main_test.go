package daemon

import (
	"os"
	"testing"
)

// The station's files are checked in a child of this program.
func TestMain(m *testing.M) {
	CheckedFile()
	os.Exit(m.Run())
}
