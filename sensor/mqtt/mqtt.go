// Package mqtt reads a probe from what a broker publishes: a radio sensor behind a hub, or a
// device that publishes by itself. It owns the last message of each topic and says which are
// too old to believe. It must not know how a broker is reached.
package mqtt

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/staleness"
)

// Connection names a broker and the login there. The probes of one connection share it.
type Connection struct {
	URL          string
	User         string
	PasswordFile string // read at each attempt; its text is never in an error
	CAFile       string // certificates that vouch for the broker; empty: the system's
}

// Options say where a probe's values are.
type Options struct {
	Connection
	Topic         string // of the temperature, and of the humidity unless that has a topic of its own
	HumidityTopic string

	// Fields of a JSON object. A dot leads to a field of a field, as in air.temperature.
	Temperature string // empty: the whole payload is the number
	Humidity    string // empty: none, or the whole payload of HumidityTopic
	Time        string // when it was measured: RFC 3339 text, Unix seconds or milliseconds; empty: not said

	Fahrenheit bool          // the temperature is
	Percent    bool          // the humidity is, not a ratio
	MaxAge     time.Duration // zero is 5 min

	Subscribe Subscribe
}

// MeasuresHumidity reports whether a humidity is named.
func (o Options) MeasuresHumidity() bool { return o.Humidity != "" || o.HumidityTopic != "" }

// maxRatio is a relative humidity that no part gives as a ratio: SHT3x and SHT4x encode up to
// 119 % (SHT4x data sheet, "conversion of signal output").
const maxRatio = 1.5

// Probe is one device that publishes at a broker.
type Probe struct {
	o      Options
	topics []string
	hub    *Hub
	age    staleness.Check
}

var _ sensor.Probe = (*Probe)(nil)

// New is a probe read as the options say, from the hub of its connection. Nothing is asked yet.
func New(o Options, h *Hub) (*Probe, error) {
	if h == nil || o.Subscribe == nil {
		return nil, fmt.Errorf("%s: no way to subscribe", o.URL)
	}
	if o.Topic == "" {
		return nil, fmt.Errorf("%s: name the topic of the temperature", o.URL)
	}
	topics := []string{o.Topic}
	if o.HumidityTopic != "" {
		topics = append(topics, o.HumidityTopic)
	}
	for _, topic := range topics {
		if strings.ContainsAny(topic, "+#\x00") {
			return nil, fmt.Errorf("%s: the topic %q has a wildcard in it (MQTT 5 section 4.7.1): name one topic", o.URL, topic)
		}
	}
	if o.MaxAge == 0 {
		o.MaxAge = 5 * time.Minute
	}
	if err := h.watch(topics...); err != nil {
		return nil, fmt.Errorf("%s: %w", o.URL, err)
	}
	return &Probe{o: o, hub: h, topics: topics, age: staleness.Check{MaxAge: o.MaxAge, Now: h.now}}, nil
}

func (p *Probe) String() string { return fmt.Sprintf("mqtt %s of %s", p.o.Topic, p.o.URL) }

// Measure gives the values of the last messages. A humidity that cannot be used is lacking,
// and the temperature stays.
//
// A message is as old as the time in its payload says, or, where none is named, as long as
// it is here. A message that the broker had kept from before is refused unless it says its
// time.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	if err := ctx.Err(); err != nil {
		return sensor.None(), sensor.Fail(sensor.NoAnswer, "%s: %w", p.o.URL, err)
	}
	p.hub.await(ctx, p.topics...)
	m := sensor.None() // each is looked at before any is refused, so that every time is seen
	var err error
	m.Celsius, err = p.value(p.o.Topic, p.o.Temperature)
	if p.o.Fahrenheit {
		m.Celsius = sensor.FromFahrenheit(m.Celsius)
	}
	if p.o.MeasuresHumidity() {
		m.Humidity, m.Lacking = p.humidity()
	}
	if err != nil {
		return sensor.None(), fmt.Errorf("%s: %w", p.o.URL, err)
	}
	if m.Lacking != nil {
		m.Lacking = fmt.Errorf("%s: %w", p.o.URL, m.Lacking)
	}
	return m, nil
}

// humidity gives the humidity as a ratio.
func (p *Probe) humidity() (float64, error) {
	topic := cmp.Or(p.o.HumidityTopic, p.o.Topic)
	v, err := p.value(topic, p.o.Humidity)
	switch {
	case err != nil:
		return math.NaN(), err
	case p.o.Percent:
		return v / 100, nil
	case v > maxRatio:
		return math.NaN(), sensor.Fail(sensor.BadFrame, "the humidity under %s is %g, no ratio: write percent = true if it is in percent", topic, v)
	}
	return v, nil
}

// value gives the number in the last message of a topic.
func (p *Probe) value(topic, field string) (float64, error) {
	saysTime := p.o.Time != "" && field != ""
	last, err := p.hub.last(topic, saysTime)
	if err == nil {
		var v float64
		v, err = number(last.payload, field)
		if err = cmp.Or(p.fresh(topic, last, saysTime), err); err == nil {
			return v, nil
		}
	}
	if down := p.hub.down(); down != nil && sensor.CauseOf(err) == sensor.NoAnswer {
		err = down
	}
	return math.NaN(), err
}

// fresh refuses a message that is too old, or whose age cannot be known.
func (p *Probe) fresh(topic string, last message, saysTime bool) error {
	if saysTime {
		at, err := when(last.payload, p.o.Time)
		if err != nil {
			return err
		}
		return p.age.Fresh("the value under "+topic, at)
	}
	if age := p.hub.now().Sub(last.at); age > p.o.MaxAge {
		return sensor.Fail(sensor.NoAnswer, "the last value under %s came %v ago: see the device and its battery", topic, age.Round(time.Second))
	}
	return nil
}
