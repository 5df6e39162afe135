package mqtt

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

const topic = "hub/shelf"

// live is a message that came while the station was connected.
func live(topic, payload string) Message { return Message{Topic: topic, Payload: []byte(payload)} }

// kept is a message that the broker had kept.
func kept(topic, payload string) Message {
	return Message{Topic: topic, Payload: []byte(payload), Kept: true}
}

// sends is a broker that sends messages at once, and then nothing.
func sends(all ...Message) Subscribe {
	return func(ctx context.Context, _ Connection, _ []string, ready func(), received func(Message)) error {
		ready()
		for _, m := range all {
			received(m)
		}
		<-ctx.Done()
		return ctx.Err()
	}
}

// refuses is a broker that takes no connection.
func refuses(context.Context, Connection, []string, func(), func(Message)) error {
	return errors.New("the broker refuses the connection: wrong user or password")
}

// probe opens a probe of one broker, which ends with the test.
func probe(t testing.TB, s Subscribe, change func(*Options)) *Probe {
	t.Helper()
	o := Options{Connection: Connection{URL: "mqtt://hub"}, Topic: topic, Subscribe: s}
	if change != nil {
		change(&o)
	}
	h := NewHub(o.Connection, o.Subscribe, time.Now)
	t.Cleanup(func() {
		if err := h.Close(); err != nil {
			t.Error(err)
		}
	})
	p, err := New(o, h)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func with(s Subscribe, change func(*Options)) func(testing.TB) sensor.Probe {
	return func(t testing.TB) sensor.Probe { return probe(t, s, change) }
}

// object names the fields of an object of a hub.
func object(o *Options) {
	o.Temperature, o.Humidity, o.Time, o.Percent = "temperature", "humidity", "last_seen", true
}

// A hub's own object, its time that of the station's clock: simulated time begins at midnight of
// 2000-01-01 (testing/synctest).
const whole = `{"temperature":23.5,"humidity":50,"battery":91,"last_seen":"2000-01-01T00:00:00Z"}`

func TestContract(t *testing.T) {
	plain := func(payload string) func(testing.TB) sensor.Probe { return with(sends(live(topic, payload)), nil) }
	field := func(payload string) func(testing.TB) sensor.Probe { return with(sends(live(topic, payload)), object) }
	sensortest.Contract(t, sensortest.Driver{
		Good: sensortest.Case{Probe: field(whole), Want: sensor.Measurement{Celsius: 23.5, Humidity: .5}},
		Faults: map[string]sensortest.Case{
			"no broker":              {Probe: with(refuses, nil), Cause: sensor.NoAnswer},
			"nothing came":           {Probe: with(sends(), nil), Cause: sensor.NoAnswer},
			"another topic":          {Probe: with(sends(live("hub/box", "23.5")), nil), Cause: sensor.NoAnswer},
			"kept without a time":    {Probe: with(sends(kept(topic, "23.5")), nil), Cause: sensor.NoAnswer},
			"kept for long":          {Probe: with(sends(kept(topic, `{"temperature":23.5,"last_seen":"1999-12-31T23:54:59Z"}`)), object), Cause: sensor.NoAnswer},
			"empty":                  {Probe: plain(""), Cause: sensor.NoAnswer},
			"a text":                 {Probe: plain("unavailable"), Cause: sensor.BadFrame},
			"a comma":                {Probe: plain("23,5"), Cause: sensor.BadFrame},
			"an object":              {Probe: plain(whole), Cause: sensor.BadFrame},
			"not a number":           {Probe: plain("NaN"), Cause: sensor.BadFrame},
			"too large":              {Probe: plain("1e999"), Cause: sensor.BadFrame},
			"no object":              {Probe: field("23.5"), Cause: sensor.BadFrame},
			"broken off":             {Probe: field(whole[:20]), Cause: sensor.BadFrame},
			"no field":               {Probe: field(`{"temp":23.5,"last_seen":946684800}`), Cause: sensor.NoAnswer},
			"null":                   {Probe: field(`{"temperature":null,"last_seen":946684800}`), Cause: sensor.NoAnswer},
			"true":                   {Probe: field(`{"temperature":true,"last_seen":946684800}`), Cause: sensor.BadFrame},
			"no time":                {Probe: field(`{"temperature":23.5}`), Cause: sensor.NoAnswer},
			"a time without a zone":  {Probe: field(`{"temperature":23.5,"last_seen":"2000-01-01T00:00:00"}`), Cause: sensor.BadFrame},
			"a time that is none":    {Probe: field(`{"temperature":23.5,"last_seen":-5}`), Cause: sensor.BadFrame},
			"a time before any":      {Probe: field(`{"temperature":23.5,"last_seen":null}`), Cause: sensor.BadFrame},
			"a time in the future":   {Probe: field(`{"temperature":23.5,"last_seen":"2000-01-01T01:00:00Z"}`), Cause: sensor.Ahead},
			"a measurement long ago": {Probe: field(`{"temperature":23.5,"last_seen":946684499}`), Cause: sensor.NoAnswer},
		},
		Lacking: map[string]sensortest.Case{
			"no humidity in it":   {Probe: field(strings.Replace(whole, "humidity", "moisture", 1)), Cause: sensor.NoAnswer},
			"humidity is no one":  {Probe: field(strings.Replace(whole, "50", `"wet"`, 1)), Cause: sensor.BadFrame},
			"percent by mistake":  {Probe: with(sends(live(topic, whole)), func(o *Options) { object(o); o.Percent = false }), Cause: sensor.BadFrame},
			"humidity never came": {Probe: with(sends(live(topic, "23.5")), func(o *Options) { o.HumidityTopic = "hub/shelf/humidity" }), Cause: sensor.NoAnswer},
		},
	})
}

// Values are read in the forms that hubs publish.
func TestForms(t *testing.T) {
	for name, c := range map[string]struct {
		payload string
		change  func(*Options)
		want    float64
	}{
		"a plain number":             {" 23.5\n", nil, 23.5},
		"a number in quotes":         {`"23.5"`, nil, 23.5},
		"Fahrenheit":                 {"74.3", func(o *Options) { o.Fahrenheit = true }, 23.5},
		"a field with a text":        {`{"t":"23.5"}`, func(o *Options) { o.Temperature = "t" }, 23.5},
		"a field of a field":         {`{"air":{"t":23.5},"t":5}`, func(o *Options) { o.Temperature = "air.t" }, 23.5},
		"a name with a dot":          {`{"air.t":23.5}`, func(o *Options) { o.Temperature = "air.t" }, 23.5},
		"seconds":                    {`{"t":23.5,"at":946684800}`, func(o *Options) { o.Temperature, o.Time = "t", "at" }, 23.5},
		"milliseconds":               {`{"t":23.5,"at":946684800000}`, func(o *Options) { o.Temperature, o.Time = "t", "at" }, 23.5},
		"seconds in quotes":          {`{"t":23.5,"at":"946684800.5"}`, func(o *Options) { o.Temperature, o.Time = "t", "at" }, 23.5},
		"a zone without a colon":     {`{"t":23.5,"at":"2000-01-01T01:00:00+0100"}`, func(o *Options) { o.Temperature, o.Time = "t", "at" }, 23.5},
		"a time with a fraction":     {`{"t":23.5,"at":"1999-12-31T19:00:00.123-05:00"}`, func(o *Options) { o.Temperature, o.Time = "t", "at" }, 23.5},
		"a humidity under its topic": {"23.5", func(o *Options) { o.HumidityTopic, o.Percent = "hub/shelf/humidity", true }, 23.5},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := probe(t, sends(live(topic, c.payload), live("hub/shelf/humidity", "61")), c.change)
				m, err := p.Measure(t.Context())
				if err != nil || math.Abs(m.Celsius-c.want) > 1e-9 {
					t.Errorf("measured %+v, %v", m, err)
				}
				if own := strings.HasPrefix(name, "a humidity"); own != (math.Abs(m.Humidity-.61) < 1e-9) || m.Lacking != nil {
					t.Errorf("humidity %g, lacking %v", m.Humidity, m.Lacking)
				}
			})
		})
	}
}

// A value counts for MaxAge after it came. What the broker kept is refused until the device
// sends again, however often the connection is made.
func TestAge(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		wire := make(chan Message)
		again := errors.New("the connection was lost: reset by peer")
		p := probe(t, func(ctx context.Context, _ Connection, topics []string, ready func(), received func(Message)) error {
			ready()
			received(kept(topic, "21.5"))
			for {
				select {
				case <-ctx.Done():
					return ctx.Err()
				case m := <-wire:
					if m.Topic == "" {
						return again
					}
					received(m)
				}
			}
		}, nil)
		measured := func(want float64, words string) {
			t.Helper()
			synctest.Wait()
			m, err := p.Measure(t.Context())
			switch {
			case words == "" && (err != nil || m.Celsius != want):
				t.Errorf("measured %+v, %v; want %g", m, err, want)
			case words != "" && (err == nil || !strings.Contains(err.Error(), words)):
				t.Errorf("measured %+v, %v; want %q", m, err, words)
			}
		}
		measured(0, "it is from before this station connected")
		wire <- live(topic, "22")
		measured(22, "")
		<-time.After(4 * time.Minute)
		measured(22, "")
		wire <- Message{} // the connection is lost, and the broker sends what it keeps again
		<-time.After(30 * time.Second)
		measured(22, "")
		<-time.After(time.Minute)
		measured(0, "the last value under hub/shelf came 5m30s ago")
		wire <- live(topic, "22.5")
		<-time.After(6 * time.Minute)
		measured(0, "the last value under hub/shelf came 6m0s ago")
	})
}

// A message that the broker kept counts where it says its time, also after a lost connection.
func TestKeptWithItsTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		lose := make(chan struct{})
		p := probe(t, func(ctx context.Context, _ Connection, _ []string, ready func(), received func(Message)) error {
			ready()
			at := time.Now().Add(-time.Minute).Format(time.RFC3339)
			received(kept(topic, `{"temperature":21,"last_seen":"`+at+`"}`))
			select {
			case <-ctx.Done():
			case <-lose:
			}
			return errors.New("the connection was lost")
		}, object)
		for _, c := range []struct {
			passes time.Duration
			lost   bool
			words  string
		}{
			{0, false, ""}, {4 * time.Minute, false, ""}, {time.Second, false, "is 5m1s old"}, {10 * time.Second, true, ""},
		} {
			if c.lost {
				lose <- struct{}{}
			}
			<-time.After(c.passes)
			m, err := p.Measure(t.Context())
			if c.words == "" && (err != nil || m.Celsius != 21) || c.words != "" && (err == nil || !strings.Contains(err.Error(), c.words)) {
				t.Errorf("%+v: %+v, %v", c, m, err)
			}
		}
	})
}

// A broker that cannot be reached is tried again with growing waits, and the measurement says
// why. A value that is not old yet counts meanwhile.
func TestNoBroker(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var tries []time.Time
		p := probe(t, func(ctx context.Context, _ Connection, _ []string, ready func(), received func(Message)) error {
			tries = append(tries, time.Now())
			if len(tries) == 1 {
				ready()
				received(live(topic, "22"))
			}
			return errors.New("connecting to hub:1883: connection refused")
		}, nil)
		if m, err := p.Measure(t.Context()); err != nil || m.Celsius != 22 {
			t.Fatalf("%+v, %v", m, err)
		}
		<-time.After(10 * time.Minute)
		m, err := p.Measure(t.Context())
		sensortest.Refused(t, m, err, sensor.NoAnswer)
		if !strings.Contains(err.Error(), "mqtt://hub: connecting to hub:1883: connection refused") {
			t.Errorf("%v", err)
		}
		for i, want := range []time.Duration{time.Second, 2 * time.Second, 4 * time.Second, 8 * time.Second, 16 * time.Second, maxWait, maxWait} {
			if got := tries[i+1].Sub(tries[i]); got != want {
				t.Errorf("try %d came after %v, want %v", i+1, got, want)
			}
		}
	})
}

// The probes of a connection share it.
func TestOneConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var asked [][]string
		c := Connection{URL: "mqtt://hub"}
		s := func(ctx context.Context, _ Connection, topics []string, ready func(), received func(Message)) error {
			asked = append(asked, topics)
			ready()
			received(live("a", `{"t":21,"u":22}`))
			received(live("b", "23"))
			<-ctx.Done()
			return ctx.Err()
		}
		h := NewHub(c, s, time.Now)
		defer h.Close()
		var got []float64
		var all []*Probe
		for _, o := range []Options{{Topic: "a", Temperature: "t"}, {Topic: "a", Temperature: "u"}, {Topic: "b"}} {
			o.Connection, o.Subscribe = c, s
			p, err := New(o, h)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, p)
		}
		for _, p := range all {
			m, err := p.Measure(t.Context())
			if err != nil {
				t.Error(err)
			}
			got = append(got, m.Celsius)
		}
		if len(asked) != 1 || strings.Join(asked[0], " ") != "a b" || got[0] != 21 || got[1] != 22 || got[2] != 23 {
			t.Errorf("asked for %v, measured %v", asked, got)
		}
		if _, err := New(Options{Connection: c, Topic: "c", Subscribe: s}, h); err == nil {
			t.Error("a topic that nothing subscribes to is taken")
		}
	})
}

func TestOptionsThatCannotWork(t *testing.T) {
	for fault, o := range map[string]Options{
		"no topic":           {Subscribe: refuses},
		"a wildcard":         {Topic: "hub/+", Subscribe: refuses},
		"another":            {Topic: "hub/shelf", HumidityTopic: "hub/#", Subscribe: refuses},
		"no way to a broker": {Topic: "hub/shelf"},
	} {
		if _, err := New(o, NewHub(o.Connection, o.Subscribe, time.Now)); err == nil {
			t.Errorf("%s: taken", fault)
		}
	}
}

func FuzzPayload(f *testing.F) {
	f.Add(whole, "temperature", "last_seen")
	f.Add("23.5", "", "")
	f.Add(`{"a":{"b":"1e308"}}`, "a.b", "a")
	f.Fuzz(func(t *testing.T, payload, field, at string) {
		v, err := number([]byte(payload), field)
		if (err != nil) != math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%q: %g, %v", payload, v, err)
		}
		if x, err := when([]byte(payload), at); err == nil && x.Year() > 10_000 {
			t.Fatalf("%q: %v", payload, x)
		}
	})
}
