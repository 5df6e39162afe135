package sysfile

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/sensor"
)

func TestText(t *testing.T) {
	for _, c := range []struct {
		text, want string
		cause      sensor.Cause
	}{
		{"23400\n", "23400", ""}, {"a\nb\n", "a\nb", ""}, {"", "", sensor.NoAnswer}, {"\n", "", ""}, {"234", "", sensor.BadFrame},
	} {
		got, err := Reader(func(string) ([]byte, error) { return []byte(c.text), nil }).Text(t.Context(), "f")
		if got != c.want || sensor.CauseOf(err) != c.cause {
			t.Errorf("%q is %q, %v", c.text, got, err)
		}
	}
	for _, endless := range []string{"/dev/zero", "long"} {
		if endless == "long" {
			endless = filepath.Join(t.TempDir(), endless)
			if err := os.WriteFile(endless, bytes.Repeat([]byte("2"), 100_000), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		got, err := Reader(nil).Text(t.Context(), endless)
		if got != "" || sensor.CauseOf(err) != sensor.BadFrame || !strings.Contains(err.Error(), "longer than") {
			t.Errorf("%s is %.40q, %v", endless, got, err)
		}
	}
	if _, err := Reader(nil).Text(t.Context(), filepath.Join(t.TempDir(), "none")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
}

func TestNumber(t *testing.T) {
	for text, ok := range map[string]bool{"23400\n": true, " -12.5 \n": true, "\n": false, "-\n": false, "inf\n": false, "1e999\n": false, "12 13\n": false} {
		v, err := Reader(func(string) ([]byte, error) { return []byte(text), nil }).Number(t.Context(), "f")
		if (err == nil) != ok || err != nil && v == v {
			t.Errorf("%q is %v, %v", text, v, err)
		}
	}
}

// probe reads one file, as a driver does.
type probe struct{ read Reader }

func (probe) String() string { return "probe" }

func (p probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	if _, err := p.read.Number(ctx, "f"); err != nil {
		return sensor.None(), err
	}
	return sensor.Measurement{Celsius: 24}, nil
}

func TestReadersOfAFileThatBlocksForEverDoNotPileUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var reads atomic.Int32
		free := make(chan struct{})
		blocked := Reader(func(string) ([]byte, error) {
			reads.Add(1)
			<-free
			return []byte("24000\n"), nil
		})
		began := time.Now()
		var causes []sensor.Cause
		p := sensor.Poller{
			Every:  10 * time.Second,
			Uptime: func() time.Duration { return time.Since(began) },
			Buses: []sensor.Bus{{Name: "kernel", Names: []string{"p"}, Open: func(context.Context) ([]sensor.Probe, func() error, error) {
				return []sensor.Probe{probe{blocked}}, nil, nil
			}}},
			Deliver: func(_ context.Context, b sensor.Batch) { causes = append(causes, b.Readings[0].Cause) },
		}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- p.Run(ctx) }()
		<-time.After(24*time.Hour + 5*time.Second)
		synctest.Wait()
		if n := reads.Load(); n > 40 {
			t.Errorf("%d reads are left behind after a day", n)
		}
		for i, c := range causes {
			if c != sensor.NoAnswer {
				t.Fatalf("poll %d: cause %q", i, c)
			}
		}
		close(free)
		<-time.After(20 * time.Second)
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if last := causes[len(causes)-1]; last != "" || len(causes) < 8640 {
			t.Errorf("after the file came back, poll %d has the cause %q", len(causes), last)
		}
	})
}

func TestFind(t *testing.T) {
	root := t.TempDir()
	for dir, name := range map[string]string{"d0": "one\n", "d1": "two\n", "d2": "two\n", "d3": ""} {
		if err := os.Mkdir(filepath.Join(root, dir), 0o755); err != nil {
			t.Fatal(err)
		}
		if name != "" {
			if err := os.WriteFile(filepath.Join(root, dir, "name"), []byte(name), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	if dir, err := Reader(nil).Find(t.Context(), root, "one"); err != nil || dir != filepath.Join(root, "d0") {
		t.Errorf("one is %q, %v", dir, err)
	}
	if dir, err := Reader(nil).Find(t.Context(), root, filepath.Join(root, "d3")); err != nil || dir != filepath.Join(root, "d3") {
		t.Errorf("a directory is %q, %v", dir, err)
	}
	for device, says := range map[string]string{"two": "d1, ", "three": "one, two, two", root + "/d9": "no such device"} {
		if dir, err := Reader(nil).Find(t.Context(), root, device); err == nil || dir != "" || !strings.Contains(err.Error(), says) {
			t.Errorf("%s is %q, %v", device, dir, err)
		}
	}
}
