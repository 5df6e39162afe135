package mqtt

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
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

// resayAfter is how long a state that stays the same is not published again (our choice: a
// hub that compares the time in a payload with its clock needs a bound).
const resayAfter = 5 * time.Minute

// maxFound is how many retained topics of a broker are looked at (our choice: a station has
// some hundreds).
const maxFound = 10_000

// Retained is a message that a broker keeps. A payload with the same Same as the last one is
// published again after five minutes; its time alone has changed.
type Retained struct {
	Payload []byte
	Same    string
}

// Publication is what a station keeps at a broker.
type Publication struct {
	// Current gives the messages by their topics; nil: nothing is known just now and all
	// stays as it is.
	Current func() map[string]Retained
	// Own are the topic filters under which this station alone retains messages. What is
	// retained there and not current is taken away.
	Own []string
	// Report is told once that the connection failed, and then, with nil, that the broker has
	// the state again.
	Report func(error)
}

// State keeps the present state at a broker, as retained messages, over a connection of its
// own that lasts.
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

// Topic is the topic below which everything of the station is.
func (k *State) Topic() string { return k.s.c.Topic }

// Keep holds a connection until the context ends, and publishes what is current: all of it
// when a connection is made, then at each tick what has changed. A connection that fails is
// tried again with growing waits.
func (k *State) Keep(ctx context.Context, every time.Duration, p Publication) {
	for failures := 0; ctx.Err() == nil; {
		published, err := k.hold(ctx, every, p, failures > 0)
		if ctx.Err() != nil {
			return
		}
		if published {
			failures = 0
		}
		if failures++; failures == 1 {
			p.Report(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(k.wait(failures)):
		}
	}
}

// hold makes one connection and publishes until it or the context ends, and reports
// whether it came to publish anything.
func (k *State) hold(ctx context.Context, every time.Duration, p Publication, again bool) (published bool, err error) {
	status := k.s.c.Topic + "/status"
	greeting, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	found := &topicSet{}
	client, lost, hangUp, err := k.s.connect(ctx, greeting, &paho.WillMessage{Topic: status, Payload: []byte(Offline), QoS: 1, Retain: true}, found.add)
	if err != nil {
		return false, err
	}
	defer hangUp()
	c := &connection{client: client, lost: lost, host: k.s.url.Host, there: map[string]sent{}, found: found}
	if err := c.put(status, []byte(Online)); err != nil {
		return false, err
	}
	for _, filter := range p.Own {
		// A broker that refuses it keeps what is there: the station may only write.
		_, _ = client.Subscribe(greeting, &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: filter, NoLocal: true}}})
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := c.publish(p.Current(), time.Now(), status); err != nil {
			return published, err
		}
		if !published && again {
			p.Report(nil)
		}
		published = true
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

// connection is one connection and what was published over it.
type connection struct {
	client *paho.Client
	lost   context.Context
	host   string
	there  map[string]sent
	found  *topicSet
}

// sent is what was published last under a topic.
type sent struct {
	same string
	at   time.Time
}

// put publishes one retained message; an empty one takes the retained one away.
func (c *connection) put(topic string, payload []byte) error {
	limited, cancel := context.WithTimeout(c.lost, time.Minute)
	defer cancel()
	p := &paho.Publish{QoS: 1, Retain: true, Topic: topic, Payload: payload}
	if answer, err := c.client.Publish(limited, p); err != nil {
		return fmt.Errorf("the state: %w", notPublished(c.host, p, answer, because(c.lost, err)))
	}
	return nil
}

// publish brings the broker up to date. The topic status stays.
func (c *connection) publish(is map[string]Retained, now time.Time, status string) error {
	if is == nil {
		return nil
	}
	for _, topic := range slices.Sorted(maps.Keys(is)) {
		if was, ok := c.there[topic]; ok && was.same == is[topic].Same && now.Sub(was.at) < resayAfter {
			continue
		}
		if err := c.put(topic, is[topic].Payload); err != nil {
			return err
		}
		c.there[topic] = sent{is[topic].Same, now}
	}
	gone := c.found.take()
	for topic := range c.there {
		gone[topic] = true
	}
	for _, topic := range slices.Sorted(maps.Keys(gone)) {
		if _, ok := is[topic]; ok || topic == status {
			continue
		}
		if err := c.put(topic, nil); err != nil {
			return err
		}
		delete(c.there, topic)
	}
	return nil
}

// topicSet collects the topics of retained messages that a broker sends.
type topicSet struct {
	mu  sync.Mutex
	all map[string]bool
}

func (s *topicSet) add(p *paho.Publish) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.all == nil {
		s.all = map[string]bool{}
	}
	if p.Retain && len(s.all) < maxFound {
		s.all[p.Topic] = true
	}
}

// take returns the topics that came since the last time.
func (s *topicSet) take() map[string]bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := s.all
	s.all = nil
	if all == nil {
		all = map[string]bool{}
	}
	return all
}
