package scrape

import (
	"bytes"
	"math"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"example.com/ootherm/sensor"
)

// exposition is what a device answered. Each metric is parsed from its own lines
// alone, so that one that is broken takes no other along, and a device that says much
// costs little.
type exposition []byte

// What is parsed of an answer, our choice: a device with probes says far less.
const (
	mostSeries = 1000     // of a metric
	mostLine   = 64 << 10 // bytes
)

// series are all series of a metric.
func (x exposition) series(name string) ([]*dto.Metric, error) {
	var own bytes.Buffer
	typed, n := false, 0
	for line := range bytes.Lines(x) {
		line = bytes.TrimLeft(line, " \t")
		if bytes.HasSuffix(line, []byte("\r\n")) {
			line = append(line[:len(line)-2:len(line)-2], '\n')
		}
		switch {
		case bytes.HasPrefix(line, []byte("#")):
			words := bytes.Fields(line)
			if typed || len(words) < 3 || string(words[1]) != "TYPE" || string(words[2]) != name {
				continue
			}
			typed = true
		case !of(line, name):
			continue
		default:
			n++
		}
		if len(line) > mostLine {
			return nil, sensor.Fail(sensor.BadFrame, "a line of %s is longer than %d bytes: see the address", name, mostLine)
		}
		if n > mostSeries {
			return nil, sensor.Fail(sensor.NoAnswer, "over %d series are %s: see the address", mostSeries, name)
		}
		own.Write(line)
	}
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(&own)
	if err != nil {
		return nil, sensor.Fail(sensor.BadFrame, "its lines of %s are not in the text format of metrics: %w", name, err)
	}
	return families[name].GetMetric(), nil
}

// of reports whether a line is one of the metric, its name before the labels or, in
// quotes, among them.
func of(line []byte, name string) bool {
	if rest, ok := bytes.CutPrefix(line, []byte(name)); ok {
		return len(rest) > 0 && bytes.IndexByte([]byte("{ \t\n"), rest[0]) >= 0
	}
	return bytes.HasPrefix(line, []byte("{")) && bytes.Contains(line, []byte(`"`+name+`"`))
}

// valid is why it is no exposition at all, by its beginning, or nil.
func (x exposition) valid() error {
	if len(x) > mostLine {
		x = x[:bytes.LastIndexByte(x[:mostLine], '\n')+1]
	}
	parser := expfmt.NewTextParser(model.UTF8Validation)
	if _, err := parser.TextToMetricFamilies(bytes.NewReader(x)); err != nil {
		return sensor.Fail(sensor.BadFrame, "the answer is not in the text format of metrics: see the address: %w", err)
	}
	return nil
}

// sample is the number that a series has, of a gauge or of what says no type.
func sample(m Metric, c *dto.Metric) (float64, error) {
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
	return v, nil
}
