//go:build tools

package mqtt_test

import (
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/alert/mqtt/mqtttest"
)

func reader(t *testing.T, c mqtt.Config) *mqtt.Reader {
	t.Helper()
	c.Dial = new(net.Dialer).DialContext
	r, err := mqtt.NewReader(c)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A reader gets what the broker has kept, marked as that, then what is published, and of a
// packet that is too long nothing. It ends with its context.
func TestReader(t *testing.T) {
	port := mqtttest.Broker(t)
	mqtttest.Publish(t, port, "hub/shelf", "21.5", true)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	ready, got, ended := make(chan struct{}), make(chan mqtt.Received, 8), make(chan error, 1)
	go func() {
		ended <- reader(t, mqtt.Config{URL: "mqtt://127.0.0.1:" + port}).Read(ctx, []string{"hub/shelf", "hub/box"},
			func() { close(ready) }, func(m mqtt.Received) { got <- m })
	}()
	<-ready
	mqtttest.Publish(t, port, "hub/other", "5", false)
	mqtttest.Publish(t, port, "hub/box", strings.Repeat("x", 17<<10), false)
	mqtttest.Publish(t, port, "hub/box", "22", true)
	for _, want := range []mqtt.Received{{Topic: "hub/shelf", Payload: []byte("21.5"), Retained: true}, {Topic: "hub/box", Payload: []byte("22")}} {
		if m := <-got; m.Topic != want.Topic || string(m.Payload) != string(want.Payload) || m.Retained != want.Retained {
			t.Errorf("%+v came, want %+v", m, want)
		}
	}
	cancel()
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("it ended with %v", err)
	}
}

// Why a reader gets nothing is told in words.
func TestReaderIsRefused(t *testing.T) {
	wrong := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(wrong, []byte("wrong battery\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	closed := mqtttest.Broker(t, "allow_anonymous false")
	open, _ := fakeBroker(t)
	for name, x := range map[string]struct {
		c     mqtt.Config
		topic string
		want  string
	}{
		"a wrong password": {mqtt.Config{URL: "mqtt://127.0.0.1:" + closed, User: "keeper", PasswordFile: wrong}, "hub/shelf", " refuses the connection: not authorized"},
		"a secret topic":   {mqtt.Config{URL: "mqtt://" + open}, secretTopic, " refuses the topic hub/secret: not authorized"},
		"no broker":        {mqtt.Config{URL: "mqtt://127.0.0.1:1"}, "hub/shelf", "connecting to 127.0.0.1:1: "},
	} {
		ctx, cancel := context.WithCancel(t.Context())
		err := reader(t, x.c).Read(ctx, []string{"hub/shelf", x.topic}, cancel, func(mqtt.Received) {})
		cancel()
		if err == nil || !strings.Contains(err.Error(), x.want) || strings.Contains(err.Error(), "battery") {
			t.Errorf("%s: %v, want %q", name, err, x.want)
		}
	}
}
