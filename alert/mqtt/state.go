package mqtt

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/eclipse/paho.golang/paho"

	"example.com/ootherm/alert"
)

// Status is what stands under TOPIC/status, retained: Online while the connection
// lasts; Offline after it ended, said by the broker where the station could not
// (the will of MQTT 5 section 3.1.2.5).
const (
	Online  = "online"
	Offline = "offline"
)

// State keeps what is so just now at a broker, as retained messages below
// TOPIC/state, over a connection of its own that lasts.
type State struct {
	s    *Sender
	wait func(failed int) time.Duration // before the next try
}

// NewState checks the configuration; it connects to nothing.
func NewState(c Config) (*State, error) {
	s, err := New(c)
	if err != nil {
		return nil, err
	}
	return &State{s, alert.Wait}, nil
}

// Level is a name as one level of a topic: what a topic gives a meaning is written
// %XX.
func Level(name string) string {
	return strings.NewReplacer("%", "%25", "/", "%2F", "+", "%2B", "#", "%23", "\x00", "%00").Replace(name)
}

// Keep holds a connection until the context ends, and publishes what current gives,
// by topics below TOPIC/state: all of it when a connection is made, then at each
// tick what has changed. What is there no more is taken from the broker; where
// current gives nil, nothing is known just now and all stays as it is. A connection that fails is told once, and tried again with growing waits.
func (k *State) Keep(ctx context.Context, every time.Duration, current func() map[string][]byte, failed func(error)) {
	for failures := 0; ctx.Err() == nil; {
		published, err := k.hold(ctx, every, current)
		if ctx.Err() != nil {
			return
		}
		if published {
			failures = 0
		}
		if failures++; failures == 1 {
			failed(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(k.wait(failures)):
		}
	}
}

// hold makes one connection and publishes until it or the context ends, and reports
// whether it came to publish anything.
func (k *State) hold(ctx context.Context, every time.Duration, current func() map[string][]byte) (published bool, err error) {
	status := k.s.c.Topic + "/status"
	greeting, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	client, lost, hangUp, err := k.s.connect(ctx, greeting, &paho.WillMessage{Topic: status, Payload: []byte(Offline), QoS: 1, Retain: true})
	if err != nil {
		return false, err
	}
	defer hangUp()
	put := func(topic string, payload []byte) error {
		limited, cancel := context.WithTimeout(lost, time.Minute)
		defer cancel()
		if _, err := client.Publish(limited, &paho.Publish{QoS: 1, Retain: true, Topic: topic, Payload: payload}); err != nil {
			return fmt.Errorf("publishing the state at %s: %w", k.s.url.Host, because(lost, err))
		}
		return nil
	}
	if err := put(status, []byte(Online)); err != nil {
		return false, err
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	there := map[string][]byte{}
	for {
		is := current()
		for _, topic := range slices.Sorted(maps.Keys(is)) {
			if was, ok := there[topic]; ok && bytes.Equal(was, is[topic]) {
				continue
			}
			if err := put(k.s.c.Topic+"/state/"+topic, is[topic]); err != nil {
				return true, err
			}
			there[topic] = is[topic]
		}
		for _, topic := range slices.Sorted(maps.Keys(there)) {
			if _, ok := is[topic]; ok || is == nil {
				continue
			}
			if err := put(k.s.c.Topic+"/state/"+topic, nil); err != nil { // an empty one takes the retained one away
				return true, err
			}
			delete(there, topic)
		}
		select {
		case <-ctx.Done():
			// A farewell spares the broker the wait for the will; one that fails leaves it.
			parting, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
			defer cancel()
			_, err := client.Publish(parting, &paho.Publish{QoS: 1, Retain: true, Topic: status, Payload: []byte(Offline)})
			return true, errors.Join(err, client.Disconnect(&paho.Disconnect{}))
		case <-lost.Done():
			return true, fmt.Errorf("the state at %s: %w", k.s.url.Host, context.Cause(lost))
		case <-tick.C:
		}
	}
}
