package mqtt

import (
	"bytes"
	"context"
	"fmt"
	"time"

	"github.com/eclipse/paho.golang/paho"
)

// greetingTime is how long a broker may take to greet and to take a subscription (our choice).
const greetingTime = 20 * time.Second

// Received is what a broker sends a [Reader].
type Received struct {
	Topic    string
	Payload  []byte
	Retained bool // the broker kept it from before the subscription
}

// Reader reads topics of a broker.
type Reader struct{ s *Sender }

// NewReader checks the configuration, of which it needs neither a topic nor a station; it
// connects to nothing.
func NewReader(c Config) (*Reader, error) {
	s, err := New(c)
	if err != nil {
		return nil, err
	}
	return &Reader{s}, nil
}

// Read connects, and subscribes to topics at quality of service 0: a value that is lost is
// replaced by the next. It calls ready once the broker has taken the subscription, and received
// for each message, one after the other. It returns why the connection ended.
func (r *Reader) Read(ctx context.Context, topics []string, ready func(), received func(Received)) error {
	greeting, cancel := context.WithTimeout(ctx, greetingTime)
	defer cancel()
	client, lost, hangUp, err := r.s.connect(ctx, greeting, nil, func(p *paho.Publish) {
		received(Received{p.Topic, bytes.Clone(p.Payload), p.Retain})
	})
	if err != nil {
		return err
	}
	defer hangUp()
	var all []paho.SubscribeOptions
	for _, t := range topics {
		all = append(all, paho.SubscribeOptions{Topic: t})
	}
	answer, err := client.Subscribe(greeting, &paho.Subscribe{Subscriptions: all})
	if err != nil {
		if answer != nil {
			for i, code := range answer.Reasons {
				if code >= 0x80 && i < len(topics) {
					return fmt.Errorf("%s refuses the topic %s: %s", r.s.url.Host, topics[i], reasonText(code))
				}
			}
		}
		return fmt.Errorf("subscribing at %s: %w", r.s.url.Host, because(lost, err))
	}
	ready()
	<-lost.Done()
	// A farewell spares the broker the wait for the end of the keep-alive; one that fails leaves it.
	_ = client.Disconnect(&paho.Disconnect{})
	return context.Cause(lost)
}
