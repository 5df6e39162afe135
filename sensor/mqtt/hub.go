package mqtt

import (
	"context"
	"errors"
	"sync"
	"time"

	"example.com/ootherm/sensor"
)

// Message is what a broker sends.
type Message struct {
	Topic   string
	Payload []byte
	Kept    bool // the broker kept it from before the subscription (retained, MQTT 5 section 3.3.1.3)
}

// Subscribe connects to a broker and subscribes to topics. It calls ready once the broker has
// taken the subscription, and received for each message, one after the other. It returns why
// the connection ended; after ctx has ended, the error says nothing.
type Subscribe func(ctx context.Context, c Connection, topics []string, ready func(), received func(Message)) error

// Hub keeps the last message of each topic of one connection. It connects at the first
// measurement, and again whenever the connection is lost.
type Hub struct {
	connection Connection
	subscribe  Subscribe
	now        func() time.Time // for the age of a message

	mu      sync.Mutex
	topics  []string
	got     map[string]messages
	reason  error         // why there is no connection; nil: there is one, or the first is being made
	changed chan struct{} // closed when something came, and made again
	settled <-chan time.Time
	end     func() // nil: not started
}

// message is what came under a topic.
type message struct {
	payload []byte
	at      time.Time // when it came; zero: none came
}

// messages are the last ones of a topic. When one was published that the broker kept is not
// known, so the last other one stays beside it.
type messages struct{ last, live message }

// NewHub makes a hub. It connects to nothing.
func NewHub(c Connection, s Subscribe, now func() time.Time) *Hub {
	return &Hub{connection: c, subscribe: s, now: now, got: map[string]messages{}, changed: make(chan struct{})}
}

// Limits of a hub, our choice.
const (
	// settling is how long the first measurements wait for what a broker has kept. It is
	// shorter than the second that a measurement has at least.
	settling = 800 * time.Millisecond
	// maxWait is the longest wait before the next attempt to connect.
	maxWait = 30 * time.Second
)

// watch adds topics. They must be added before the first measurement.
func (h *Hub) watch(topics ...string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.end != nil {
		return errors.New("the connection is made already")
	}
	for _, t := range topics {
		if _, known := h.got[t]; !known {
			h.got[t] = messages{}
			h.topics = append(h.topics, t)
		}
	}
	return nil
}

// Close ends the connection.
func (h *Hub) Close() error {
	h.mu.Lock()
	end := h.end
	h.mu.Unlock()
	if end != nil {
		end()
	}
	return nil
}

// start begins to hold the connection, once.
func (h *Hub) start() {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.end != nil {
		return
	}
	ctx, cancel := context.WithCancel(context.Background()) // it outlives the measurement
	done := make(chan struct{})
	h.end = func() {
		cancel()
		<-done
	}
	settled := make(chan time.Time)
	h.settled = settled
	timer := time.AfterFunc(settling, func() { close(settled) })
	go func() {
		defer close(done)
		defer timer.Stop()
		h.hold(ctx)
	}()
}

// hold keeps a connection until the context ends.
func (h *Hub) hold(ctx context.Context) {
	for failed := 0; ; failed++ {
		err := h.subscribe(ctx, h.connection, h.topics, func() {
			failed = 0
			h.change(func() { h.reason = nil })
		}, h.receive)
		if ctx.Err() != nil {
			return
		}
		h.change(func() { h.reason = err })
		select {
		case <-ctx.Done():
			return
		case <-time.After(min(time.Second<<min(failed, 10), maxWait)):
		}
	}
}

// change makes a change and wakes those that wait for one.
func (h *Hub) change(do func()) {
	h.mu.Lock()
	defer h.mu.Unlock()
	do()
	close(h.changed)
	h.changed = make(chan struct{})
}

// receive keeps a message.
func (h *Hub) receive(m Message) {
	h.change(func() {
		got, watched := h.got[m.Topic]
		if !watched {
			return
		}
		got.last = message{payload: m.Payload, at: h.now()}
		if !m.Kept {
			got.live = got.last
		}
		h.got[m.Topic] = got
	})
}

// await connects, and waits shortly for the first message of each topic.
func (h *Hub) await(ctx context.Context, topics ...string) {
	h.start()
	for {
		h.mu.Lock()
		waiting := false
		for _, t := range topics {
			waiting = waiting || h.got[t].last.at.IsZero()
		}
		waiting = waiting && h.reason == nil
		changed := h.changed
		h.mu.Unlock()
		if !waiting {
			return
		}
		select {
		case <-changed:
		case <-h.settled:
			return
		case <-ctx.Done():
			return
		}
	}
}

// errKept is the reason why a message that the broker had kept is not believed.
var errKept = errors.New("it is from before this station connected, and does not say when it was measured: it counts once the device sends the next; if the payload has a time, name its field with time")

// last gives the last message of a topic; of messages that say no time, the last that the
// broker had not kept.
func (h *Hub) last(topic string, saysTime bool) (message, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	m := h.got[topic]
	switch {
	case m.last.at.IsZero():
		return m.last, sensor.Fail(sensor.NoAnswer, "nothing came under %s yet: see the topic, that the device publishes, and that the user may read it", topic)
	case saysTime:
		return m.last, nil
	case m.live.at.IsZero():
		return m.live, sensor.Fail(sensor.NoAnswer, "the value under %s: %w", topic, errKept)
	}
	return m.live, nil
}

// down is why there is no connection, or nil.
func (h *Hub) down() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.reason == nil {
		return nil
	}
	return sensor.Fail(sensor.NoAnswer, "%w", h.reason)
}
