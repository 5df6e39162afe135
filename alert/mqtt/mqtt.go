// Package mqtt delivers messages to an MQTT 5 broker, keeps a state there, and reads topics.
// It owns the connection and its limits. It must not know what a payload means.
package mqtt

import (
	"bytes"
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"slices"
	"strings"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/trust"
)

// Config says where the broker is.
type Config struct {
	URL          string // mqtt://host:1883 or mqtts://host:8883, without a user
	Topic        string // messages go below it; see Sender. Empty: that of [DefaultTopic]
	User         string
	PasswordFile string // read at each attempt; its text is never in an error. Empty: no login
	CAFile       string // certificates (PEM) that vouch for an mqtts broker, read at each attempt; empty: the system's
	Station      string

	// Dial connects to the broker, and limits the length of its replies.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)
}

// DefaultTopic is the topic of a station that has none configured: several stations share a
// broker.
func DefaultTopic(station string) string { return "ootherm/" + Level(station) }

// Sender publishes each message by its priority, under TOPIC/critical, TOPIC/warning or
// TOPIC/notice, and by its episodes, under TOPIC/episode/ZONE/SIDE: one topic for each zone
// and side, as TOPIC/episode/egg room/too-cold. Both have the same payload and the same id.
// It publishes at quality of service 1: the broker has answered for
// each. It connects for every message, which at a few a day costs nothing and
// leaves no connection to die unnoticed.
type Sender struct {
	c   Config
	url *url.URL
}

var _ alert.Sender = (*Sender)(nil)

// New checks the configuration; it connects to nothing.
func New(c Config) (*Sender, error) {
	u, err := url.Parse(c.URL)
	switch {
	case err != nil || u.Hostname() == "" || u.Scheme != "mqtt" && u.Scheme != "mqtts":
		return nil, errors.New("the address must be mqtt://host:port or mqtts://host:port")
	case u.User != nil:
		return nil, errors.New("the address holds a user: name it in user, and the password in password_file")
	case c.PasswordFile != "" && c.User == "":
		return nil, errors.New("a password file and no user: name the user")
	case c.CAFile != "" && u.Scheme != "mqtts":
		return nil, errors.New("a ca_file and no TLS: write the address as mqtts://")
	case c.Dial == nil:
		return nil, errors.New("no dialer")
	case strings.ContainsAny(c.Topic, "+#\x00"):
		return nil, fmt.Errorf("topic %q has a wildcard in it (MQTT 5 section 4.7.1)", c.Topic)
	}
	c.Topic = strings.TrimRight(cmp.Or(c.Topic, DefaultTopic(c.Station)), "/")
	if u.Port() == "" {
		u.Host = net.JoinHostPort(u.Hostname(), map[string]string{"mqtt": "1883", "mqtts": "8883"}[u.Scheme])
	}
	return &Sender{c, u}, nil
}

// Send publishes one message. What the broker will never take (a bad topic, too
// large: MQTT 5 section 3.4.2.1) is [alert.ErrPermanent]; a refused login is not,
// for it says nothing of the message.
func (s *Sender) Send(ctx context.Context, m alert.Message) error {
	payload, err := m.Payload(s.c.Station)
	if err != nil {
		return alert.Permanent(err)
	}
	client, lost, hangUp, err := s.connect(ctx, ctx, nil, nil)
	if err != nil {
		return err
	}
	defer hangUp()
	text := byte(1)
	properties := paho.PublishProperties{ContentType: "application/json", PayloadFormat: &text,
		User: paho.UserProperties{{Key: "id", Value: m.ID}}}
	for _, t := range m.Threads {
		properties.User.Add("episode", t.ID)
	}
	for _, topic := range topics(m) {
		p := &paho.Publish{QoS: 1, Topic: s.c.Topic + "/" + topic, Payload: payload, Properties: &properties}
		if answer, err := client.Publish(lost, p); err != nil {
			err = notPublished(s.url.Host, p, answer, because(lost, err))
			if answer != nil && final(answer.ReasonCode) {
				return alert.Permanent(err)
			}
			return err
		}
	}
	// It is delivered; a farewell that fails changes nothing.
	_ = client.Disconnect(&paho.Disconnect{})
	return nil
}

// topics are where a message is published, below the configured topic.
func topics(m alert.Message) []string {
	all := []string{string(m.Priority)}
	for _, t := range m.Threads {
		if topic := "episode/" + Level(t.Zone) + "/" + string(t.Side); t.Zone != "" && t.Side != "" && !slices.Contains(all, topic) {
			all = append(all, topic)
		}
	}
	return all
}

// connect greets the broker while greeting lasts. The context it gives ends with
// ctx, and with the connection, which hangUp ends. Received gets what the broker sends; nil
// where nothing is subscribed.
func (s *Sender) connect(ctx, greeting context.Context, will *paho.WillMessage, received func(*paho.Publish)) (_ *paho.Client, lost context.Context, hangUp func(), err error) {
	most, waiting := uint32(maxPacket), uint16(maxWaiting)
	connect := &paho.Connect{ // the broker gives the client a name
		KeepAlive: 30, CleanStart: true, WillMessage: will,
		Properties: &paho.ConnectProperties{MaximumPacketSize: &most, ReceiveMaximum: &waiting},
	}
	if s.c.User != "" {
		connect.Username, connect.UsernameFlag = s.c.User, true
	}
	if s.c.PasswordFile != "" {
		password, err := os.ReadFile(s.c.PasswordFile)
		if err != nil {
			return nil, nil, nil, fmt.Errorf("reading the password: %w", err)
		}
		connect.Password, connect.PasswordFlag = bytes.TrimRight(password, "\r\n"), true
	}
	wire, err := s.dial(greeting)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("connecting to %s: %w", s.url.Host, err)
	}
	lost, fail := context.WithCancelCause(ctx)
	hangUp = func() {
		fail(nil)
		_ = wire.Close() // it may have ended by itself
	}
	client := paho.NewClient(paho.ClientConfig{
		Conn:          wire,
		OnClientError: func(err error) { fail(fmt.Errorf("the connection was lost: %w", err)) },
		OnServerDisconnect: func(d *paho.Disconnect) {
			fail(fmt.Errorf("the broker hung up: %s", reasonText(d.ReasonCode)))
		},
		OnPublishReceived: []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
			if received != nil {
				received(p.Packet)
			}
			return true, nil
		}},
	})
	bound, cancel := context.WithCancel(lost)
	defer cancel()
	defer context.AfterFunc(greeting, cancel)()
	if answer, err := client.Connect(bound, connect); err != nil {
		if answer != nil { // the library names no reason that the broker gives as a code alone
			err = fmt.Errorf("%s refuses the connection: %s", s.url.Host, reasonText(answer.ReasonCode))
		} else {
			err = fmt.Errorf("greeting %s: %w", s.url.Host, because(greeting, because(lost, err)))
		}
		hangUp()
		return nil, nil, nil, err
	}
	return client, lost, hangUp, nil
}

// notPublished says why a broker did not take a message: what it answered, else the error.
func notPublished(host string, p *paho.Publish, answer *paho.PublishResponse, err error) error {
	if answer != nil && answer.ReasonCode >= 0x80 {
		return fmt.Errorf("%s refuses a message to the topic %s: %s", host, p.Topic, reasonText(answer.ReasonCode))
	}
	return fmt.Errorf("publishing at %s: %w", host, err)
}

// because adds why a context ended to the error that came of it.
func because(ctx context.Context, err error) error {
	if cause := context.Cause(ctx); cause != nil {
		return errors.Join(cause, err)
	}
	return err
}

func final(reason byte) bool {
	switch reason {
	case packets.PubackTopicNameInvalid, packets.PubackPayloadFormatInvalid, packets.DisconnectPacketTooLarge:
		return true
	}
	return false
}

func (s *Sender) dial(ctx context.Context) (net.Conn, error) {
	roots, err := trust.Roots(s.c.CAFile)
	if err != nil {
		return nil, err
	}
	conn, err := s.c.Dial(ctx, "tcp", s.url.Host)
	if err != nil {
		return nil, err
	}
	if s.url.Scheme == "mqtts" {
		secured := tls.Client(conn, &tls.Config{ServerName: s.url.Hostname(), RootCAs: roots, MinVersion: tls.VersionTLS12})
		if err := secured.HandshakeContext(ctx); err != nil {
			return nil, errors.Join(err, conn.Close())
		}
		conn = secured
	}
	return packets.NewThreadSafeConn(&packetLimiter{Conn: conn}), nil
}
