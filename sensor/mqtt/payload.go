package mqtt

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/staleness"
)

// number reads the number that a payload is, or that a field of it is.
func number(payload []byte, field string) (float64, error) {
	text := bytes.TrimSpace(payload)
	what := "the payload"
	if field != "" {
		var err error
		if text, err = find(text, field); err != nil {
			return math.NaN(), err
		}
		what = field
	}
	text = unquoted(text)
	var v float64
	switch err := json.Unmarshal(text, &v); {
	case len(text) == 0:
		return math.NaN(), sensor.Fail(sensor.NoAnswer, "%s is empty: see the device", what)
	case string(text) == "null":
		return math.NaN(), sensor.Fail(sensor.NoAnswer, "%s is null: see the device", what)
	case field == "" && text[0] == '{':
		return math.NaN(), sensor.Fail(sensor.BadFrame, "the payload is a JSON object: name its field with temperature or humidity")
	case err != nil:
		return math.NaN(), sensor.Fail(sensor.BadFrame, "%s is %.40q, no number: see the topic, and the device", what, text)
	}
	return v, nil
}

// unquoted gives the text within a JSON string, and anything else as it is.
func unquoted(text []byte) []byte {
	var inner string
	if len(text) == 0 || text[0] != '"' || json.Unmarshal(text, &inner) != nil {
		return text
	}
	return []byte(strings.TrimSpace(inner))
}

// find gives a field of a JSON object, as JSON. A name with a dot that is no field leads to a
// field of a field.
func find(object []byte, field string) ([]byte, error) {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(object, &all); err != nil || all == nil {
		return nil, sensor.Fail(sensor.BadFrame, "%.40q is no JSON object, so it has no field %s: see the topic; for a plain number name no field", object, field)
	}
	if v, ok := all[field]; ok {
		return v, nil
	}
	if outer, inner, ok := strings.Cut(field, "."); ok && all[outer] != nil {
		return find(all[outer], inner)
	}
	return nil, sensor.Fail(sensor.NoAnswer, "the payload has no field %s: see what the device publishes", field)
}

// layouts are the forms of a time as text: RFC 3339, and ISO 8601 with a zone without a colon.
var layouts = []string{time.RFC3339, "2006-01-02T15:04:05Z0700"}

// when reads the time that a field of a payload is.
func when(payload []byte, field string) (time.Time, error) {
	text, err := find(payload, field)
	if err != nil {
		return time.Time{}, err
	}
	text = unquoted(text)
	for _, layout := range layouts {
		if at, err := time.Parse(layout, string(text)); err == nil {
			return at, nil
		}
	}
	var v float64
	if json.Unmarshal(text, &v) != nil || string(text) == "null" || !(v >= 0 && v < 1000*staleness.Latest) {
		return time.Time{}, sensor.Fail(sensor.BadFrame, "%s is %.40q, no time: it must be as 2026-04-02T19:00:00Z, with its zone, or Unix seconds or milliseconds", field, text)
	}
	if v < staleness.Latest {
		v *= 1000
	}
	return time.UnixMilli(int64(v)), nil
}
