//go:build tools

package probeconfig

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/mqtt/mqtttest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/sensor"
)

// Probes of a hub are read from a real broker over TLS, with a password, over one connection.
// What the broker keeps counts only with its time; a poll without a value leaves the
// connection open.
func TestProbesOfABroker(t *testing.T) {
	cert, key := mqtttest.Certificate(t)
	dir := t.TempDir()
	password, log := filepath.Join(dir, "password"), filepath.Join(dir, "log")
	if err := os.WriteFile(password, []byte("correct horse\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	secure := mqtttest.FreePort(t)
	port := mqtttest.Broker(t, "log_dest file "+log, "listener "+secure+" 127.0.0.1", "certfile "+cert, "keyfile "+key)
	at := time.Now().UTC()
	mqtttest.Publish(t, port, "hub/shelf", fmt.Sprintf(`{"air":{"t":74.3,"rh":50},"at":%q}`, at.Add(-time.Minute).Format(time.RFC3339)), true)
	mqtttest.Publish(t, port, "hub/old", fmt.Sprintf(`{"t":21,"at":%d}`, at.Add(-time.Hour).UnixMilli()), true)
	mqtttest.Publish(t, port, "hub/box", "22.5", true)
	probe := func(name, keys string) string {
		return strings.NewReplacer("NAME", name, "PORT", secure, "PASSWORD", password, "CERT", cert).Replace(`
[[probe]]
name = "NAME"
driver = "mqtt"
url = "mqtts://127.0.0.1:PORT"
user = "keeper"
password_file = "PASSWORD"
ca_file = "CERT"
`) + keys + "\n"
	}
	c, err := config.Parse("egg.toml", []byte(
		probe("shelf", "topic = \"hub/shelf\"\ntemperature = \"air.t\"\nhumidity = \"air.rh\"\ntime = \"at\"\nunits = \"fahrenheit\"\npercent = true")+
			probe("old", "topic = \"hub/old\"\ntemperature = \"t\"\ntime = \"at\"")+
			probe("box", "topic = \"hub/box\"\nhumidity_topic = \"hub/box/humidity\"")), Drivers())
	if err != nil {
		t.Fatal(err)
	}
	buses, err := Buses(c.Probes, time.Now, dialer.New())
	if err != nil || len(buses) != 1 {
		t.Fatalf("%d buses, %v", len(buses), err)
	}
	batches := make(chan sensor.Batch)
	p := sensor.Poller{Buses: buses, Every: 50 * time.Millisecond, Limit: 2 * time.Second, Uptime: func() time.Duration { return time.Since(at) },
		Deliver: func(ctx context.Context, b sensor.Batch) {
			select {
			case batches <- b:
			case <-ctx.Done():
			}
		}}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- p.Run(ctx) }()
	told := func(b sensor.Batch) string {
		var all []string
		for i, r := range b.Readings {
			one := fmt.Sprintf("%s %.4g %.3g", r.Probe, r.Celsius, r.Humidity)
			if b.Errs[i] != nil {
				one = r.Probe + " " + string(r.Cause)
			}
			all = append(all, one)
		}
		return strings.Join(all, ", ")
	}
	b := <-batches
	if got, want := told(b), "shelf 23.5 0.5, old no-answer, box no-answer"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	for i, want := range map[int]string{1: "is 1h0m", 2: "it is from before this station connected"} {
		if b.Errs[i] == nil || !strings.Contains(b.Errs[i].Error(), want) {
			t.Errorf("%s: %v, want %q", c.Probes[i].Name, b.Errs[i], want)
		}
	}
	mqtttest.Publish(t, port, "hub/box", "22.75", true)
	mqtttest.Publish(t, port, "hub/box/humidity", "0.61", false)
	limit := time.After(time.Minute)
	for want, got := "shelf 23.5 0.5, old no-answer, box 22.75 0.61", ""; got != want; {
		select {
		case b := <-batches:
			got = told(b)
		case <-limit:
			t.Fatalf("%s, want %s", got, want)
		}
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	text, err := os.ReadFile(log)
	if n := strings.Count(string(text), "New client connected from 127.0.0.1") - 5; err != nil || n != 1 { // five are those that published
		t.Errorf("%d connections, %v:\n%s", n, err, text)
	}
}
