package mqtt_test

import (
	"context"
	"errors"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/mqtt"
)

var hot = alert.Message{ID: "temperature-high.critical/egg room/7", Alarm: "temperature-high.critical/egg room",
	At: time.Date(2026, 4, 2, 18, 7, 0, 0, time.UTC), Priority: alert.Critical, Subject: "▲ ROOM too warm", Body: "Since 14:07.\n"}

func sender(t *testing.T, c mqtt.Config) *mqtt.Sender {
	t.Helper()
	c.Station, c.Dial = "egg room", new(net.Dialer).DialContext
	s, err := mqtt.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestNoBroker(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	err = sender(t, mqtt.Config{URL: "mqtt://" + l.Addr().String()}).Send(t.Context(), hot)
	if err == nil || errors.Is(err, alert.ErrPermanent) || !strings.Contains(err.Error(), "127.0.0.1") {
		t.Errorf("%v", err)
	}
}

func TestABrokerThatSaysNothing(t *testing.T) {
	for _, hangUp := range []bool{false, true} {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() {
			defer close(done)
			c, err := l.Accept()
			if err != nil {
				t.Error(err)
				return
			}
			if _, err := c.Read(make([]byte, 1)); err != nil { // the greeting has come
				t.Error(err)
			}
			if !hangUp {
				cancel()
				_, _ = io.Copy(io.Discard, c) // until the sender hangs up
			}
			_ = c.Close()
		}()
		err = sender(t, mqtt.Config{URL: "mqtt://" + l.Addr().String()}).Send(ctx, hot)
		if err == nil || errors.Is(err, alert.ErrPermanent) || errors.Is(err, context.Canceled) == hangUp {
			t.Errorf("hung up %v: %v", hangUp, err)
		}
		cancel()
		<-done
		_ = l.Close()
	}
}

func TestConfiguration(t *testing.T) {
	for _, c := range []mqtt.Config{{URL: ""}, {URL: "tcp://h"}, {URL: "mqtt://"}, {URL: "mqtt://u:secret@h"},
		{URL: "mqtt://h", PasswordFile: "x"}, {URL: "mqtt://h", CAFile: "x"}, {URL: "mqtt://h", Topic: "a/#"}, {URL: "mqtt://h", Topic: "+"}} {
		c.Dial = new(net.Dialer).DialContext
		if _, err := mqtt.New(c); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%s %s: %v", c.URL, c.Topic, err)
		}
	}
	if _, err := mqtt.New(mqtt.Config{URL: "mqtt://h"}); err == nil {
		t.Error("a configuration without a dialer is taken")
	}
}

func TestLevel(t *testing.T) {
	if got := mqtt.Level("a/b+c#d%e\x00 ä"); got != "a%2Fb%2Bc%23d%25e%00 ä" {
		t.Errorf("%q", got)
	}
}
