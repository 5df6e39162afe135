//go:build tools

package mqtt_test

import (
	"encoding/json"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/eclipse/paho.golang/paho"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/alert/mqtt/mqtttest"
)

// listen subscribes to everything, and gives what comes.
func listen(t *testing.T, port string) <-chan *paho.Publish {
	t.Helper()
	conn, err := net.Dial("tcp", "127.0.0.1:"+port)
	if err != nil {
		t.Fatal(err)
	}
	got := make(chan *paho.Publish, 16)
	c := paho.NewClient(paho.ClientConfig{Conn: conn, OnPublishReceived: []func(paho.PublishReceived) (bool, error){
		func(p paho.PublishReceived) (bool, error) { got <- p.Packet; return true, nil }}})
	if _, err := c.Connect(t.Context(), &paho.Connect{KeepAlive: 30, CleanStart: true, ClientID: "listener"}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Subscribe(t.Context(), &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: "#", QoS: 1}}}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := c.Disconnect(&paho.Disconnect{}); err != nil {
			t.Error(err)
		}
	})
	return got
}

func TestWhatArrives(t *testing.T) {
	port := mqtttest.Broker(t)
	got := listen(t, port)
	file := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(file, []byte("correct horse\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []mqtt.Config{
		{URL: "mqtt://127.0.0.1:" + port, User: "keeper", PasswordFile: file, Topic: "eggs/"},
		{URL: "mqtt://127.0.0.1:" + port},
	} {
		if err := sender(t, c).Send(t.Context(), hot); err != nil {
			t.Fatal(err)
		}
		p := <-got
		want := "eggs/critical"
		if c.Topic == "" {
			want = "ootherm/egg room/critical"
		}
		if p.Topic != want || p.QoS != 1 || p.Retain {
			t.Errorf("topic %q, quality %d, retained %v", p.Topic, p.QoS, p.Retain)
		}
		if p.Properties.ContentType != "application/json" || p.Properties.User.Get("id") != hot.ID {
			t.Errorf("properties %+v", p.Properties)
		}
		var body map[string]any
		if err := json.Unmarshal(p.Payload, &body); err != nil || body["id"] != hot.ID || body["subject"] != hot.Subject || body["station"] != "egg room" {
			t.Errorf("%s: %v", p.Payload, err)
		}
	}
}

func TestRefusals(t *testing.T) {
	file := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(file, []byte("wrong battery\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	port := mqtttest.Broker(t, "allow_anonymous false")
	for name, c := range map[string]mqtt.Config{
		"a wrong password": {URL: "mqtt://127.0.0.1:" + port, User: "keeper", PasswordFile: file},
		"no login":         {URL: "mqtt://127.0.0.1:" + port},
		"no password file": {URL: "mqtt://127.0.0.1:" + port, User: "keeper", PasswordFile: file + "x"},
	} {
		err := sender(t, c).Send(t.Context(), hot)
		if err == nil || errors.Is(err, alert.ErrPermanent) || strings.Contains(err.Error(), "battery") || !strings.HasSuffix(name, "file") && !strings.HasSuffix(err.Error(), ": not authorized") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestTooLarge(t *testing.T) {
	port := mqtttest.Broker(t, "message_size_limit 100")
	if err := sender(t, mqtt.Config{URL: "mqtt://127.0.0.1:" + port}).Send(t.Context(), hot); !errors.Is(err, alert.ErrPermanent) {
		t.Errorf("over the broker's limit: %v", err)
	}
}
