package zones

import (
	"context"
	"encoding/xml"
	"errors"
	"io"
	"iter"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

var at = time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)

func ptr[T any](v T) *T { return &v }

// steady is a probe that reads the same each minute.
type steady float64

func (c steady) Readings(_ context.Context, _ string, from, to time.Time) iter.Seq2[page.Point, error] {
	return func(yield func(page.Point, error) bool) {
		for t := from; t.Before(to); t = t.Add(time.Minute) {
			if !yield(page.Point{At: t, Celsius: float64(c), Humidity: 0.5}, nil) {
				return
			}
		}
	}
}

func (s steady) Hourly(context.Context, string, time.Time, time.Time) iter.Seq2[page.Hour, error] {
	return func(func(page.Hour, error) bool) {}
}

func (c steady) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return c.Readings(ctx, probe, from, to)
}

// script is a probe with given readings, and an error after them.
type script struct {
	points []page.Point
	err    error
}

func (s script) Readings(context.Context, string, time.Time, time.Time) iter.Seq2[page.Point, error] {
	return func(yield func(page.Point, error) bool) {
		for _, p := range s.points {
			if !yield(p, nil) {
				return
			}
		}
		if s.err != nil {
			yield(page.Point{Celsius: math.NaN(), Humidity: math.NaN()}, s.err)
		}
	}
}

func (s script) Hourly(context.Context, string, time.Time, time.Time) iter.Seq2[page.Hour, error] {
	return func(func(page.Hour, error) bool) {}
}

func (s script) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return s.Readings(ctx, probe, from, to)
}

func options() page.Options {
	return page.Options{Past: steady(25.8), Reader: words.Reader{Units: words.Fahrenheit, Place: time.UTC}, Every: 10 * time.Second, Clock: func() time.Time { return at }}
}

func incubator() snapshot.Zone {
	return snapshot.Zone{Zone: "incubator", Kind: "incubator", Celsius: ptr(23.6), SetPoint: ptr(23.3), Wanted: snapshot.Band{Low: ptr(22.2222), High: ptr(24.4444)}, HumidityBand: snapshot.Ratios{Low: ptr(0.45), High: ptr(0.7)}}
}

func room() snapshot.Zone {
	z := incubator()
	z.Zone, z.Kind, z.Celsius, z.Probes = "room", "room", ptr(25.8), []snapshot.Probe{{Probe: "shelf", Status: "ok"}}
	return z
}

// element is an element of a drawing.
type element struct {
	name, text string
	attrs      map[string]string
}

type elements []*element

func elementsOf(t *testing.T, markup string) (all elements) {
	t.Helper()
	var open elements
	for d := xml.NewDecoder(strings.NewReader(markup)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatalf("%v in %s", err, markup)
		}
		switch x := token.(type) {
		case xml.StartElement:
			e := &element{name: x.Name.Local, attrs: map[string]string{}}
			for _, a := range x.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			open, all = append(open, e), append(all, e)
		case xml.CharData:
			for _, e := range open {
				e.text += string(x)
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		}
	}
}

// find gives the elements of a name that have an attribute, given as name or as name=value.
func (all elements) find(name string, attrs ...string) (found elements) {
	for _, e := range all {
		good := e.name == name
		for _, a := range attrs {
			attr, want, valued := strings.Cut(a, "=")
			got, ok := e.attrs[attr]
			good = good && ok && (!valued || got == want)
		}
		if good {
			found = append(found, e)
		}
	}
	return found
}

func (all elements) has(name string, attrs ...string) bool { return len(all.find(name, attrs...)) > 0 }

func (all elements) texts() (texts []string) {
	for _, e := range all {
		texts = append(texts, e.text)
	}
	return texts
}
