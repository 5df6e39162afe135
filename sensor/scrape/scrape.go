// Package scrape reads a probe of another device from the metrics that it exposes
// in the text format of Prometheus.
package scrape

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"mime"
	"net/http"
	"net/url"
	"os"
	"sort"
	"strings"
	"time"

	dto "github.com/prometheus/client_model/go"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/staleness"
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

	User         string // with PasswordFile: sent as Basic (RFC 7617); empty: its text is sent as Bearer
	PasswordFile string // read at each attempt; its text is never in an error. Empty: no login

	Client *http.Client // limits redirects and the length of an answer
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
	if len(labels) == 0 {
		return m.Name
	}
	return m.Name + "{" + strings.Join(labels, ",") + "}"
}

// Probe is one probe of another device.
type Probe struct {
	o   Options
	age staleness.Check
}

var _ sensor.Probe = (*Probe)(nil)

// maxBody is how much is read of an answer (our choice: far above what a device
// with a few probes says).
const maxBody = 4 << 20

// New is a probe read as the options say. Nothing is asked yet.
func New(o Options) (*Probe, error) {
	u, err := url.Parse(o.URL)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" {
		return nil, fmt.Errorf("%q is no address of metrics: give it as http://host:port/metrics", o.URL)
	}
	if o.Temperature.Name == "" {
		return nil, fmt.Errorf("%s: name the metric that is the temperature", u.Redacted())
	}
	if o.Now == nil {
		return nil, fmt.Errorf("%s: no clock to tell old values by", u.Redacted())
	}
	if o.MaxAge == 0 {
		o.MaxAge = 5 * time.Minute
	}
	if o.Client == nil {
		return nil, fmt.Errorf("%s: no client to connect with", u.Redacted())
	}
	return &Probe{o: o, age: staleness.Check{MaxAge: o.MaxAge, Now: o.Now}}, nil
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

// Measure asks the device. A humidity that cannot be used is lacking, and the
// temperature stays.
//
// Where the device says when it measured, a value that is too old is refused, as
// [staleness.Check.Fresh] says.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	m, err := p.measure(ctx)
	if err != nil {
		return sensor.None(), fmt.Errorf("%s: %w", p.where(), err)
	}
	if m.Lacking != nil {
		m.Lacking = fmt.Errorf("%s: %w", p.where(), m.Lacking)
	}
	return m, nil
}

func (p *Probe) measure(ctx context.Context) (sensor.Measurement, error) {
	none := sensor.None()
	x, err := p.get(ctx)
	if err != nil {
		return none, err
	}
	m := none // each is looked at before any is refused, so that every stamp is seen
	m.Celsius, err = p.value(x, p.o.Temperature)
	if p.o.Fahrenheit {
		m.Celsius = sensor.FromFahrenheit(m.Celsius)
	}
	if p.o.Humidity.Name != "" {
		m.Humidity, m.Lacking = p.value(x, p.o.Humidity)
		if p.o.Percent {
			m.Humidity /= 100
		}
	}
	if p.o.Success.Name != "" {
		err = cmp.Or(err, p.succeeded(x))
	}
	if err != nil {
		return none, err
	}
	return m, nil
}

// succeeded is why what the device has measured last is not believed, or nil.
func (p *Probe) succeeded(x exposition) error {
	at, err := p.value(x, p.o.Success)
	if err != nil {
		return err
	}
	if !(at >= 0 && at < staleness.Latest) {
		return sensor.Fail(sensor.BadFrame, "%s is %g, no time in Unix seconds: name a metric that is one", p.o.Success, at)
	}
	return p.age.Fresh(p.o.Success.String(), time.UnixMilli(int64(at*1000)))
}

func (p *Probe) get(ctx context.Context) (exposition, error) {
	q, err := http.NewRequestWithContext(ctx, http.MethodGet, p.o.URL, nil)
	if err != nil {
		return nil, sensor.Fail(sensor.NoAnswer, "%w", err)
	}
	q.Header.Set("Accept", "text/plain;version=0.0.4")
	if err := p.authorize(q); err != nil {
		return nil, err
	}
	r, err := p.o.Client.Do(q)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // it repeats the address, password and all
		}
		return nil, sensor.Fail(sensor.NoAnswer, "the device does not answer: see that it is on and in the network: %w", err)
	}
	defer r.Body.Close()
	if r.StatusCode == http.StatusUnauthorized || r.StatusCode == http.StatusForbidden {
		return nil, sensor.Fail(sensor.NoAnswer, "the device answers %s: name the file of its password or token with password_file", r.Status)
	}
	if r.StatusCode != http.StatusOK {
		return nil, sensor.Fail(sensor.NoAnswer, "the device answers %s: see the address", r.Status)
	}
	if t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err == nil && t != "text/plain" {
		return nil, sensor.Fail(sensor.BadFrame, "the device answers with %s, not with metrics as text: see the address", t)
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, maxBody+1))
	switch {
	case ctx.Err() != nil:
		return nil, sensor.Fail(sensor.NoAnswer, "the device does not finish in time: %w", ctx.Err())
	case err != nil:
		return nil, sensor.Fail(sensor.BadFrame, "the device's answer breaks off: %w", err)
	case len(body) > maxBody:
		return nil, sensor.Fail(sensor.BadFrame, "the device says more than %d bytes: see the address", maxBody)
	}
	return body, nil
}

// authorize adds what the device asks for.
func (p *Probe) authorize(q *http.Request) error {
	if p.o.PasswordFile == "" {
		return nil
	}
	text, err := os.ReadFile(p.o.PasswordFile)
	if err != nil {
		return sensor.Fail(sensor.NoAnswer, "the password file cannot be read: %w", err)
	}
	secret := strings.TrimSpace(string(text))
	switch {
	case secret == "":
		return sensor.Fail(sensor.NoAnswer, "%s is empty: write the password or the token into it", p.o.PasswordFile)
	case p.o.User != "":
		q.SetBasicAuth(p.o.User, secret)
	default:
		q.Header.Set("Authorization", "Bearer "+secret)
	}
	return nil
}

// value is the value of the one series that fits.
func (p *Probe) value(x exposition, m Metric) (float64, error) {
	all, err := x.series(m.Name)
	if err != nil {
		return math.NaN(), err
	}
	var found []*dto.Metric
	for _, c := range all {
		if fits(c, m.Labels) {
			found = append(found, c)
		}
	}
	if len(all) == 0 {
		if err := x.valid(); err != nil {
			return math.NaN(), err
		}
	}
	if len(found) == 0 {
		return math.NaN(), sensor.Fail(sensor.NoAnswer, "no series is %s: see the metric's name and its labels", m)
	}
	if len(found) > 1 {
		return math.NaN(), sensor.Fail(sensor.NoAnswer, "%d series are %s: name labels that one alone has", len(found), m)
	}
	v, err := sample(m, found[0])
	if err == nil && found[0].TimestampMs != nil {
		err = p.age.Fresh(m.String(), time.UnixMilli(found[0].GetTimestampMs()))
	}
	if err != nil {
		return math.NaN(), err
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
