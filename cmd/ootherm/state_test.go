//go:build tools

package main

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"example.com/ootherm/alert/mqtt/mqtttest"
)

// A broker keeps how the room is and how each alarm stands, and says by itself that
// the station is gone when it was killed.
func TestABrokerKeepsTheState(t *testing.T) {
	config, data, listen := small(t)
	port := mqtttest.Broker(t)
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Dir(config), "ootherm.toml", string(text)+`[[sender]]
name = "house"
kind = "mqtt"
url = "mqtt://127.0.0.1:`+port+`"
topic = "eggs"
`)
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	eventually(t, "the broker keeps the state", func() bool {
		got := mqtttest.Retained(t, port)
		return got["eggs/status"] == "online" && strings.Contains(got["eggs/state/zone/room"], `"temperature_c":2`) &&
			strings.Contains(got["eggs/state/alarm/probe-silent.critical/room/probe:shelf"], `"state":"normal"`)
	})
	if got := do(t, "", "alarms", "--config", config, "--off", "room"); got.code != 0 {
		t.Fatalf("%+v", got)
	}
	eventually(t, "the broker keeps that it is switched off", func() bool {
		return strings.Contains(mqtttest.Retained(t, port)["eggs/state/alarm/probe-silent.critical/room/probe:shelf"], `"state":"out-of-service"`)
	})
	r.end(syscall.SIGKILL)
	eventually(t, "the broker says that it is gone", func() bool { return mqtttest.Retained(t, port)["eggs/status"] == "offline" })
	r.start()
	eventually(t, "it is back", func() bool { return mqtttest.Retained(t, port)["eggs/status"] == "online" })
	if code := r.end(syscall.SIGTERM); code != 0 {
		t.Errorf("asked to end, it ended with %d:\n%s", code, r.said())
	}
	if got := mqtttest.Retained(t, port)["eggs/status"]; got != "offline" {
		t.Errorf("after it took its leave it is %q", got)
	}
}
