package scrape

import (
	"fmt"
	"net/http"
	"runtime"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

// device is another device whose answer changes.
type device struct{ body string }

func (d *device) RoundTrip(q *http.Request) (*http.Response, error) {
	return direct{200, plain, d.body}.RoundTrip(q)
}

// A device whose clock is ahead tells nothing of how old its values are, but that each
// later stamp is a later measurement: the first is not believed, nor one that stays.
func TestAStampInTheFuture(t *testing.T) {
	for name, body := range map[string]func(at time.Time) string{
		"of the sample":       func(at time.Time) string { return fmt.Sprintf("c 23.5 %d\n", at.UnixMilli()) },
		"of when it measured": func(at time.Time) string { return fmt.Sprintf("c 23.5\nlast %d\n", at.Unix()) },
		"of both, and humidity": func(at time.Time) string {
			return fmt.Sprintf("c 23.5 %d\nrh 0.5 %[1]d\nlast %d\n", at.UnixMilli(), at.Unix())
		},
	} {
		t.Run(name, func(t *testing.T) {
			clock, d := now, &device{}
			o := Options{URL: "http://127.0.0.1/metrics", Temperature: Metric{Name: "c"}, Now: func() time.Time { return clock }, Client: &http.Client{Transport: d}}
			if strings.Contains(body(now), "last") {
				o.Success = Metric{Name: "last"}
			}
			if strings.Contains(body(now), "rh") {
				o.Humidity = Metric{Name: "rh"}
			}
			p, err := New(o)
			if err != nil {
				t.Fatal(err)
			}
			for i, c := range []struct {
				passes, ahead time.Duration // of our clock, and of the stamp before it then; it stays where it is 0
				cause         sensor.Cause
			}{
				{0, 30 * time.Second, ""},             // two clocks differ a little
				{time.Minute, time.Minute, ""},        // just so
				{time.Minute, time.Hour, ""},          // it moved on, so it was measured since
				{4 * time.Minute, 0, ""},              // by our own clock it is four minutes old
				{2 * time.Minute, 0, sensor.NoAnswer}, // and now six
				{time.Minute, time.Hour, ""},
				{time.Minute, 30 * time.Minute, sensor.Ahead}, // set back: its time is not known
				{time.Minute, 0, sensor.Ahead},
				{time.Minute, 30 * time.Minute, ""},
				{time.Minute, 0 - time.Minute, ""}, // the clock was set right
				{time.Minute, 0 - 6*time.Minute, sensor.NoAnswer},
			} {
				clock = clock.Add(c.passes)
				if c.ahead != 0 {
					d.body = body(clock.Add(c.ahead))
				}
				m, err := p.Measure(t.Context())
				if sensor.CauseOf(err) != c.cause || err == nil && (m.Celsius != 23.5 || m.Lacking != nil) {
					t.Errorf("poll %d: %+v, %v; want %q", i, m, err, c.cause)
				}
			}
			first, err := New(o)
			if err != nil {
				t.Fatal(err)
			}
			d.body = body(clock.Add(90 * time.Minute))
			for range 2 { // nothing is known of the first, nor of one that stays as it is
				m, err := first.Measure(t.Context())
				sensortest.Refused(t, m, err, sensor.Ahead)
				if !strings.Contains(err.Error(), "1h30m0s ahead of this station's clock") {
					t.Errorf("it is told as %v", err)
				}
			}
			clock = clock.Add(10 * time.Second)
			d.body = body(clock.Add(90 * time.Minute))
			if m, err := first.Measure(t.Context()); err != nil || m.Celsius != 23.5 {
				t.Errorf("once the stamp moved on: %+v, %v", m, err)
			}
		})
	}
}

// A stamp that is no time of Unix seconds is told as that.
func TestWhenItMeasuredIsNoTime(t *testing.T) {
	for _, last := range []string{"1775156400000", "1e300", "-1e300", "-5"} {
		d := direct{200, plain, "c 23.5\nlast " + last + "\n"}
		m, err := with(d, func(o *Options) {
			o.Temperature, o.Humidity, o.Success = Metric{Name: "c"}, Metric{}, Metric{Name: "last"}
		})(t).Measure(t.Context())
		sensortest.Refused(t, m, err, sensor.BadFrame)
		if err == nil || !strings.Contains(err.Error(), "no time in Unix seconds") {
			t.Errorf("%s: %v", last, err)
		}
	}
}

// Of an answer only the lines that are asked for count: what is wrong in others is
// theirs.
func TestABrokenLineIsItsOwnSeriesAlone(t *testing.T) {
	good := "# HELP c Warmth.\n# TYPE c gauge\nc{a=\"1\"} 23.5\n"
	for name, body := range map[string]string{
		"no number":            good + "rh wet\n",
		"no number, before it": "rh wet\n" + good,
		"another's":            "x{ 1\n\"\"\" 5\n" + good + "rh 0.5\n# TYPE y gauge\n# TYPE y gauge\ny{z} \n",
		"told twice":           good + good[:strings.LastIndex(good, "c{")] + "rh 0.5\n",
		"cut off":              good + "rh 0.5\nx 2",
		"with an exemplar":     good + "rh 0.5\nb_bucket{le=\"1\"} 2 # {trace_id=\"x\"} 0.5\n# EOF\n",
		"blanks before it":     strings.ReplaceAll(good, "c{a", "  c {a") + "rh 0.5\n",
		"a name in quotes":     `{"c",a="1"} 23.5` + "\nrh 0.5\n",
		"Windows":              strings.ReplaceAll(good, "\n", "\r\n") + "rh 0.5\r\n",
		"labels with escapes":  `x{a="\"} 5"} 1` + "\n" + good + "rh 0.5\n",
	} {
		m, err := with(direct{200, plain, body}, func(o *Options) {
			o.Temperature, o.Humidity, o.Success = Metric{"c", map[string]string{"a": "1"}}, Metric{Name: "rh"}, Metric{}
		})(t).Measure(t.Context())
		if err != nil || m.Celsius != 23.5 {
			t.Errorf("%s: %+v, %v", name, m, err)
		}
		if wet := strings.HasPrefix(name, "no number"); wet && sensor.CauseOf(m.Lacking) != sensor.BadFrame || !wet && m.Humidity != 0.5 {
			t.Errorf("%s: the humidity is %v, lacking %v", name, m.Humidity, m.Lacking)
		}
	}
	// A value that was cut off is none: 23.5 began with 2.
	for _, body := range []string{"rh 0.5\nc{a=\"1\"} 2", "rh 0.5\nc{a=\"1\"", "rh 0.5\nc{a=\"1\"} 23.5 17751\n\n"} {
		m, err := with(direct{200, plain, body}, func(o *Options) { o.Temperature, o.Humidity, o.Success = Metric{Name: "c"}, Metric{}, Metric{} })(t).Measure(t.Context())
		if err == nil {
			t.Errorf("%q was read as %+v", body, m)
		}
	}
}

// A device that says far too much costs little and is told what of; a metric that it has
// not is told as that, however much else it says.
func TestADeviceThatSaysTooMuch(t *testing.T) {
	var many strings.Builder
	for i := range 150_000 {
		fmt.Fprintf(&many, "c{i=\"%d\"} 23\n", i)
	}
	long := "c{i=\"" + strings.Repeat("x", 1<<20) + "\"} 23.5\n"
	for body, want := range map[string]string{
		many.String(): "over 1000 series are c: ",
		long:          "a line of c is longer than ",
		strings.ReplaceAll(many.String(), "c{", "d{"): "no series is c: ",
		"d 5\nc{a=\"2\"} 5\n":                         "no series is c{a=\"1\"}: ",
		"c 5\nc 5\n":                                  "2 series are c: ",
	} {
		var labels map[string]string
		if strings.Contains(want, "a=") {
			labels = map[string]string{"a": "1"}
		}
		p := with(direct{200, plain, body}, func(o *Options) { o.Temperature, o.Humidity, o.Success = Metric{"c", labels}, Metric{}, Metric{} })(t)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := p.Measure(t.Context())
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v, want %q", body, err, want)
		}
		if took := after.TotalAlloc - before.TotalAlloc; took > 30<<20 { // the body, and the buffers it grew through
			t.Errorf("%.40q took %d MB", body, took>>20)
		}
	}
}
