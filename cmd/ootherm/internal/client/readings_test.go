package client

import (
	"bytes"
	"errors"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// What replay reads has RFC 3339. A spreadsheet takes the clock on the wall for a time; the zone
// has a column of its own.
func TestTimesOfReadings(t *testing.T) {
	dir := t.TempDir()
	l, err := net.Listen("unix", daemon.SocketPath(dir))
	if err != nil {
		t.Fatal(err)
	}
	srv := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		_, _ = w.Write([]byte(`{"readings":[{"at":"2026-06-01T08:00:00.6Z","temperature_c":23.5,"relative_humidity":null,"cause":null}]}`))
	})}
	ended := make(chan error)
	go func() { ended <- srv.Serve(l) }()
	defer func() { _ = srv.Close(); <-ended }()
	c, err := Running(t.Context(), filepath.Clean(dir), words.Reader{Place: time.FixedZone("two hours east", 2*60*60)})
	if err != nil || c == nil {
		t.Fatalf("%v, %v", c, err)
	}
	defer c.Close()
	for _, x := range []struct {
		table bool
		want  string
	}{
		{false, "time,probe,temperature_c,relative_humidity\n2026-06-01T08:00:00.6Z,shelf,23.5,\n"},
		{true, "time,probe,temperature_c,relative_humidity,time_zone\n2026-06-01T10:00:01,shelf,23.5,,UTC+02:00\n"},
	} {
		var out bytes.Buffer
		if err := c.Readings(t.Context(), &out, "shelf", time.Unix(0, 0), time.Unix(1, 0), x.table); err != nil || out.String() != x.want {
			t.Errorf("%q, %v", out.String(), err)
		}
	}
	// A full disk of the reader is no fault of the station.
	if err := c.Ask(t.Context(), http.MethodGet, "/api/v1/readings", nil, fullDisk{}); !errors.Is(err, syscall.ENOSPC) || strings.Contains(err.Error(), "station") {
		t.Errorf("a full disk is told as %v", err)
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, syscall.ENOSPC }
