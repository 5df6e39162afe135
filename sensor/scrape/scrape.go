// Package scrape reads a probe of another device from the metrics that it exposes
// in the text format of Prometheus.
package scrape

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"mime"
	"net/http"
	"net/url"
	"sort"
	"strings"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"example.com/ootherm/sensor"
)

// Options say where a probe's values are.
type Options struct {
	URL         string
	Temperature Metric
	Humidity    Metric // without a name where there is none
	Fahrenheit  bool   // the temperature is
	Percent     bool   // the humidity is, not a ratio

	// Success, where it has a name, is when the device last measured, in Unix
	// seconds; a device that goes on exposing an old value is found out by it.
	Success Metric
	MaxAge  time.Duration    // by Success, or by the timestamp of a sample; zero is 5 min
	Now     func() time.Time // for MaxAge

	Client *http.Client // nil for one of its own
}

// Metric is one series: a name, and labels that it must have.
type Metric struct {
	Name   string
	Labels map[string]string
}

func (m Metric) String() string {
	var labels []string
	for k, v := range m.Labels {
		labels = append(labels, fmt.Sprintf("%s=%q", k, v))
	}
	sort.Strings(labels)
	return m.Name + "{" + strings.Join(labels, ",") + "}"
}

// Probe is one probe of another device.
type Probe struct{ o Options }

var _ sensor.Probe = (*Probe)(nil)

// maxBody is how much is read of an answer (our choice: far above what a device
// with a few probes says).
const maxBody = 4 << 20

// New is a probe read as the options say. Nothing is asked yet.
func New(o Options) (*Probe, error) {
	u, err := url.Parse(o.URL)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" {
		return nil, fmt.Errorf("scrape: %q is no address of metrics: give it as http://host:port/metrics", o.URL)
	}
	if o.Temperature.Name == "" {
		return nil, fmt.Errorf("scrape: %s: name the metric that is the temperature", u.Redacted())
	}
	if o.Now == nil {
		return nil, fmt.Errorf("scrape: %s: no clock to tell old values by", u.Redacted())
	}
	if o.MaxAge == 0 {
		o.MaxAge = 5 * time.Minute
	}
	if o.Client == nil {
		o.Client = &http.Client{}
	}
	return &Probe{o}, nil
}

func (p *Probe) String() string { return fmt.Sprintf("scrape %s of %s", p.o.Temperature, p.where()) }

// where is the address without a password.
func (p *Probe) where() string {
	u, err := url.Parse(p.o.URL)
	if err != nil {
		return "" // New parsed it
	}
	return u.Redacted()
}

// Measure asks the device.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	m, err := p.measure(ctx)
	if err != nil {
		return sensor.None(), fmt.Errorf("scrape: %s: %w", p.where(), err)
	}
	return m, nil
}

func (p *Probe) measure(ctx context.Context) (sensor.Measurement, error) {
	none := sensor.None()
	families, err := p.get(ctx)
	if err != nil {
		return none, err
	}
	c, err := p.value(families, p.o.Temperature)
	if err != nil {
		return none, err
	}
	if p.o.Fahrenheit {
		c = (c - 32) / 1.8
	}
	m := sensor.Measurement{Celsius: c, Humidity: math.NaN()}
	if p.o.Humidity.Name != "" {
		if m.Humidity, err = p.value(families, p.o.Humidity); err != nil {
			return none, err
		}
		if p.o.Percent {
			m.Humidity /= 100
		}
	}
	if p.o.Success.Name != "" {
		at, err := p.value(families, p.o.Success)
		if err != nil {
			return none, err
		}
		if err := p.fresh(p.o.Success, time.UnixMilli(int64(at*1000))); err != nil {
			return none, err
		}
	}
	return m, nil
}

func (p *Probe) get(ctx context.Context) (map[string]*dto.MetricFamily, error) {
	q, err := http.NewRequestWithContext(ctx, http.MethodGet, p.o.URL, nil)
	if err != nil {
		return nil, sensor.Fail(sensor.NoAnswer, "%w", err)
	}
	q.Header.Set("Accept", "text/plain;version=0.0.4")
	r, err := p.o.Client.Do(q)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // it repeats the address, password and all
		}
		return nil, sensor.Fail(sensor.NoAnswer, "the device does not answer: see that it is on and in the network: %w", err)
	}
	defer r.Body.Close()
	if r.StatusCode != http.StatusOK {
		return nil, sensor.Fail(sensor.NoAnswer, "the device answers %s: see the address", r.Status)
	}
	if t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err == nil && t != "text/plain" {
		return nil, sensor.Fail(sensor.BadFrame, "the device answers with %s, not with metrics as text: see the address", t)
	}
	body := io.LimitReader(r.Body, maxBody+1)
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(body)
	if body.(*io.LimitedReader).N == 0 {
		return nil, sensor.Fail(sensor.BadFrame, "the device says more than %d bytes: see the address", maxBody)
	}
	if ctx.Err() != nil {
		return nil, sensor.Fail(sensor.NoAnswer, "the device does not finish in time: %w", ctx.Err())
	}
	if err != nil {
		return nil, sensor.Fail(sensor.BadFrame, "the answer is not in the text format of metrics: %w", err)
	}
	return families, nil
}

// value is the value of the one series that fits.
func (p *Probe) value(families map[string]*dto.MetricFamily, m Metric) (float64, error) {
	var found []*dto.Metric
	for _, c := range families[m.Name].GetMetric() {
		if fits(c, m.Labels) {
			found = append(found, c)
		}
	}
	if len(found) != 1 {
		return math.NaN(), sensor.Fail(sensor.NoAnswer, "%d series are %s: name labels that one alone has", len(found), m)
	}
	c := found[0]
	var v float64
	switch {
	case c.Gauge != nil:
		v = c.GetGauge().GetValue()
	case c.Untyped != nil:
		v = c.GetUntyped().GetValue()
	default:
		return math.NaN(), sensor.Fail(sensor.BadFrame, "%s is no gauge: name one", m)
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return math.NaN(), sensor.Fail(sensor.NoAnswer, "%s is %v: see the device's own probe", m, v)
	}
	if c.TimestampMs != nil {
		if err := p.fresh(m, time.UnixMilli(c.GetTimestampMs())); err != nil {
			return math.NaN(), err
		}
	}
	return v, nil
}

func fits(c *dto.Metric, labels map[string]string) bool {
	n := 0
	for _, l := range c.GetLabel() {
		if v, ok := labels[l.GetName()]; ok {
			if v != l.GetValue() {
				return false
			}
			n++
		}
	}
	return n == len(labels)
}

// fresh refuses a value that is too old.
func (p *Probe) fresh(m Metric, at time.Time) error {
	if age := p.o.Now().Sub(at); age > p.o.MaxAge {
		return sensor.Fail(sensor.NoAnswer, "%s is %v old: see the device's own probe", m, age.Round(time.Second))
	}
	return nil
}
