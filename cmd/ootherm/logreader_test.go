package main

import (
	"context"
	"net/http"
	"os"
	"syscall"
	"testing"
)

// A reader of the log that ends does not end the station, which goes on and says what it has
// to.
func TestReaderOfTheLogEnds(t *testing.T) {
	config, _, listen := small(t)
	reader, writer, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	c := command(context.Background(), "run", "--config", config)
	c.Stderr = writer
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() { defer close(ended); _ = c.Wait() }()
	t.Cleanup(func() { _ = c.Process.Kill(); <-ended })
	_ = writer.Close() // the station has its own
	well := func() bool {
		answer, err := http.Get("http://" + listen + "/healthz")
		if err != nil {
			return false
		}
		_ = answer.Body.Close()
		return answer.StatusCode == http.StatusOK
	}
	eventually(t, "the station is well", well)
	if err := reader.Close(); err != nil {
		t.Fatal(err)
	}
	for range 2 { // each is told in the log
		if got := do(t, "", "alarms", "--config", config, "--off", "room"); got.code != 0 {
			t.Fatalf("%+v", got)
		}
		if got := do(t, "", "alarms", "--config", config, "--on", "room"); got.code != 0 {
			t.Fatalf("%+v", got)
		}
	}
	if !well() {
		t.Error("the station is not well after the reader of its log ended")
	}
	if err := c.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	<-ended
	if code := c.ProcessState.ExitCode(); code != 0 {
		t.Errorf("asked to end, it ended with %d", code)
	}
}
