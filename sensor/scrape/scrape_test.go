package scrape

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

var now = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

const metrics = `# HELP room_temperature_celsius Temperature.
# TYPE room_temperature_celsius gauge
room_temperature_celsius{probe="shelf",zone="room"} 23.5
room_temperature_celsius{probe="box",zone="room"} 24.25
# TYPE room_humidity_ratio gauge
room_humidity_ratio{probe="shelf"} 0.5
# TYPE last_seconds gauge
last_seconds{probe="shelf"} %d
room_fahrenheit 77
room_percent 51
gone_celsius NaN
old_celsius 23 %d
# TYPE polls_total counter
polls_total 23
`

// serve answers every request alike and gives the address.
func serve(t testing.TB, status int, contentType, body string) string {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", contentType)
		w.WriteHeader(status)
		fmt.Fprint(w, body)
	}))
	t.Cleanup(s.Close)
	return s.URL + "/metrics"
}

func text(age time.Duration) string {
	return fmt.Sprintf(metrics, now.Add(-age).Unix(), now.Add(-10*time.Minute).UnixMilli())
}

func shelf(name string) Metric {
	return Metric{Name: name, Labels: map[string]string{"probe": "shelf"}}
}

// direct answers without a network, so that time may be simulated.
type direct struct {
	status            int
	contentType, body string
}

func (d direct) RoundTrip(q *http.Request) (*http.Response, error) {
	if err := q.Context().Err(); err != nil {
		return nil, err
	}
	w := httptest.NewRecorder()
	w.Header().Set("Content-Type", d.contentType)
	w.WriteHeader(d.status)
	fmt.Fprint(w, d.body)
	return w.Result(), nil
}

const plain = "text/plain; version=0.0.4; charset=utf-8"

func with(d direct, change func(*Options)) func(testing.TB) sensor.Probe {
	return func(t testing.TB) sensor.Probe {
		o := Options{
			URL: "http://127.0.0.1/metrics", Temperature: shelf("room_temperature_celsius"), Humidity: shelf("room_humidity_ratio"),
			Success: shelf("last_seconds"), Now: func() time.Time { return now },
			Client: &http.Client{Transport: d},
		}
		if change != nil {
			change(&o)
		}
		p, err := New(o)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
}

func TestContract(t *testing.T) {
	good := direct{200, plain, text(time.Minute)}
	series := func(name string) func(testing.TB) sensor.Probe {
		return with(good, func(o *Options) { o.Temperature, o.Humidity, o.Success = Metric{Name: name}, Metric{}, Metric{} })
	}
	humidity := func(name string, d direct) func(testing.TB) sensor.Probe {
		return with(d, func(o *Options) { o.Humidity = Metric{Name: name} })
	}
	sensortest.Contract(t, sensortest.Driver{
		Good: sensortest.Case{Probe: with(good, nil), Want: sensor.Measurement{Celsius: 23.5, Humidity: .5}},
		Faults: map[string]sensortest.Case{
			"not found":                {Probe: with(direct{404, plain, "no"}, nil), Cause: sensor.NoAnswer},
			"a page":                   {Probe: with(direct{200, "text/html", "<html>"}, nil), Cause: sensor.BadFrame},
			"not metrics":              {Probe: with(direct{200, plain, "{}{}\n"}, nil), Cause: sensor.BadFrame},
			"too much":                 {Probe: with(direct{200, plain, strings.Repeat("# nothing\n", maxBody/10+1)}, nil), Cause: sensor.BadFrame},
			"empty":                    {Probe: with(direct{200, plain, ""}, nil), Cause: sensor.NoAnswer},
			"measured long ago":        {Probe: with(direct{200, plain, text(6 * time.Minute)}, nil), Cause: sensor.NoAnswer},
			"a sample of long ago":     {Probe: series("old_celsius"), Cause: sensor.NoAnswer},
			"two series fit":           {Probe: series("room_temperature_celsius"), Cause: sensor.NoAnswer},
			"no such series":           {Probe: series("room_kelvin"), Cause: sensor.NoAnswer},
			"the device knows nothing": {Probe: series("gone_celsius"), Cause: sensor.NoAnswer},
			"a counter":                {Probe: series("polls_total"), Cause: sensor.BadFrame},
		},
		Lacking: map[string]sensortest.Case{
			"no such humidity":      {Probe: humidity("room_wetness", good), Cause: sensor.NoAnswer},
			"two fit":               {Probe: humidity("room_temperature_celsius", good), Cause: sensor.NoAnswer},
			"humidity without":      {Probe: humidity("gone_celsius", good), Cause: sensor.NoAnswer},
			"humidity of long ago":  {Probe: humidity("old_celsius", good), Cause: sensor.NoAnswer},
			"humidity is a counter": {Probe: humidity("polls_total", good), Cause: sensor.BadFrame},
		},
	})
}

func TestOverTheNetworkInOtherUnits(t *testing.T) {
	p, err := New(Options{
		URL: serve(t, 200, plain, text(0)), Temperature: Metric{Name: "room_fahrenheit"}, Humidity: Metric{Name: "room_percent"},
		Fahrenheit: true, Percent: true, Now: func() time.Time { return now }, Client: http.DefaultClient,
	})
	if err != nil {
		t.Fatal(err)
	}
	if m, err := p.Measure(t.Context()); err != nil || !sensortest.Equal(m, sensor.Measurement{Celsius: 25, Humidity: .51}) {
		t.Errorf("measured %+v, %v", m, err)
	}
}

func TestADeviceThatIsOffOrSilent(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, q *http.Request) { <-q.Context().Done() }))
	open := func(url string) *Probe {
		p, err := New(Options{URL: url, Temperature: Metric{Name: "c"}, Now: time.Now, Client: http.DefaultClient})
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	m, err := open(s.URL).Measure(ctx)
	sensortest.Refused(t, m, err, sensor.NoAnswer)
	secret := strings.Replace(s.URL, "http://", "http://user:secret@", 1)
	s.CloseClientConnections()
	s.Close()
	m, err = open(secret).Measure(t.Context())
	sensortest.Refused(t, m, err, sensor.NoAnswer)
	if strings.Contains(err.Error(), "secret") || strings.Contains(open(secret).String(), "secret") {
		t.Errorf("the password shows: %v", err)
	}
}

func TestOptionsThatCannotWork(t *testing.T) {
	clock := func() time.Time { return now }
	for fault, o := range map[string]Options{
		"no address":        {Temperature: Metric{Name: "c"}, Now: clock, Client: http.DefaultClient},
		"not http":          {URL: "file:///etc/hosts", Temperature: Metric{Name: "c"}, Now: clock, Client: http.DefaultClient},
		"no temperature":    {URL: "http://127.0.0.1/metrics", Now: clock, Client: http.DefaultClient},
		"nothing to age by": {URL: "http://127.0.0.1/metrics", Temperature: Metric{Name: "c"}, Client: http.DefaultClient},
		"no client":         {URL: "http://127.0.0.1/metrics", Temperature: Metric{Name: "c"}, Now: clock},
	} {
		if _, err := New(o); err == nil {
			t.Errorf("%s: taken", fault)
		}
	}
}

func FuzzExposition(f *testing.F) {
	f.Add(text(0))
	f.Add("room_temperature_celsius{probe=\"shelf\"} 1e308\n")
	f.Fuzz(func(t *testing.T, body string) {
		p := with(direct{200, plain, body}, func(o *Options) { o.Humidity, o.Success = Metric{}, Metric{} })(t)
		m, err := p.Measure(t.Context())
		if (err != nil) != math.IsNaN(m.Celsius) {
			t.Fatalf("%+v, %v", m, err)
		}
	})
}
