package daemon

import (
	"os"
	"testing"
)

// TestMain runs a file check if the station started this process as one.
func TestMain(m *testing.M) {
	RunFileCheck()
	os.Exit(m.Run())
}
