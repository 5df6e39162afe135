package station_test

import (
	"encoding/json"
	"fmt"
	"iter"
	"math"
	"regexp"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/demo"
	"example.com/ootherm/cmd/ootherm/internal/incident"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/track"
)

var pastLimit = regexp.MustCompile(`"events":[1-9]`)

// rawPast is the past of the demo's zones by raw readings alone.
type rawPast struct {
	q incident.Query
}

func (p rawPast) Samples(s track.Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	return func(yield func(thermal.Sample, error) bool) {
		probes := []string{s.Probe}
		for _, z := range p.q.Plan.Zones {
			if s.Probe == "" && z.Name == s.Zone {
				probes = z.Probes
			}
		}
		for v, err := range zone.Values(probes, p.q.Fresh, 0, func(yield func(zone.Timed, error) bool) {
			for x, err := range p.q.Readings(probes, from, to) {
				if !yield(zone.Timed{At: x.At, Sample: zone.Sample{Probe: x.Probe, Celsius: x.Celsius + warmer}}, err) {
					return
				}
			}
		}) {
			if !yield(thermal.Sample{At: v.At, Celsius: v.Celsius}, err) {
				return
			}
		}
	}
}

func (rawPast) Exposure(track.Source, float64, time.Time, time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	return x, first, last, false, nil
}

// The whole incident, as its JSON, is the same by stored hours and blocks and by each raw
// reading, at nights and months of the demo's season: with its faults, and where nothing was.
func TestIncidentIsThatOfTheReadings(t *testing.T) {
	end := time.Date(2026, 6, 10, 12, 0, 0, 0, time.UTC)
	season := demo.New(end)
	p := demoPlan(t, season)
	p.Every = 10 * time.Minute
	entries, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	stored := history.Memory(history.Options{GapLimit: p.GapLimit()})
	boot, err := stored.Begin("one", season.Began(), 0, true)
	if err != nil {
		t.Fatal(err)
	}
	for at := season.Began(); at.Before(end); at = at.Add(p.Every) {
		var batch []sensor.Reading
		for _, name := range demo.Probes() {
			if x, on := season.Measure(name, at); on {
				batch = append(batch, sensor.Reading{Probe: name, Measurement: x, Stamp: sensor.Stamp{Boot: boot.Number, Uptime: at.Sub(season.Began())}})
			}
		}
		if err := stored.Append(batch); err != nil {
			t.Fatal(err)
		}
	}
	books := ledger.Memory()
	if _, err := books.Append(entries, end); err != nil {
		t.Fatal(err)
	}
	s, err := station.New(t.Context(), station.Options{Plan: p, Boot: boot, Stores: station.Stores{History: stored, Ledger: books, Journal: outbox.NewMemory()}}, end)
	if err != nil {
		t.Fatal(err)
	}
	readings, past := map[string]int{}, 0
	for _, c := range []struct {
		ago, long time.Duration
	}{{12 * time.Hour, 12 * time.Hour}, {3 * 24 * time.Hour, 36 * time.Hour}, {30 * 24 * time.Hour, 30 * 24 * time.Hour}, {50 * 24 * time.Hour, 31 * 24 * time.Hour}, {88 * 24 * time.Hour, 20 * 24 * time.Hour}} {
		from := end.Add(-c.ago).Add(-7 * time.Minute)
		q, err := s.Retrospect().Incident(from, from.Add(c.long), "")
		if err != nil {
			t.Fatal(err)
		}
		look := func(q incident.Query, what string) []byte {
			read := q.Readings
			q.Readings = func(probes []string, from, to time.Time) iter.Seq2[incident.Reading, error] {
				return func(yield func(incident.Reading, error) bool) {
					for x, err := range read(probes, from, to) {
						readings[what]++
						if !yield(x, err) {
							return
						}
					}
				}
			}
			n, err := q.Look(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			b, err := json.Marshal(n)
			if err != nil {
				t.Fatal(err)
			}
			return b
		}
		got := look(q, "by hours")
		raw := q
		raw.Hourly = nil
		raw.Felt = func(y book.Stay) (thermal.Exposure, error) { return track.Stay(rawPast{q}, y, q.Gap) }
		past += len(pastLimit.FindAll(got, -1))
		wantAlike(t, fmt.Sprintf("%v from %v", c.long, from), got, look(raw, "by readings"))
	}
	t.Logf("readings of zones that were read: %v", readings)
	if past < 5 {
		t.Errorf("only %d limits were passed", past)
	}
	if readings["by hours"] > readings["by readings"]/2 {
		t.Errorf("hours save few readings: %v", readings)
	}
}

// wantAlike compares JSON: numbers to a millionth, all else as it is. Summed in another order a
// figure differs by some 1e-9.
func wantAlike(t *testing.T, what string, got, want []byte) {
	t.Helper()
	var a, b any
	if err := json.Unmarshal(got, &a); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(want, &b); err != nil {
		t.Fatal(err)
	}
	var compare func(path string, a, b any)
	compare = func(path string, a, b any) {
		switch x := a.(type) {
		case map[string]any:
			y, _ := b.(map[string]any)
			if len(x) != len(y) {
				t.Errorf("%s: %s has other keys: %v, want %v", what, path, x, y)
				return
			}
			for k := range x {
				compare(path+"."+k, x[k], y[k])
			}
		case []any:
			y, _ := b.([]any)
			if len(x) != len(y) {
				t.Errorf("%s: %s has %d elements, want %d", what, path, len(x), len(y))
				return
			}
			for i := range x {
				compare(fmt.Sprintf("%s[%d]", path, i), x[i], y[i])
			}
		case float64:
			if y, ok := b.(float64); !ok || math.Abs(x-y) > 1e-6*math.Max(1, math.Abs(y)) {
				t.Errorf("%s: %s is %v, want %v", what, path, a, b)
			}
		default:
			if a != b {
				t.Errorf("%s: %s is %v, want %v", what, path, a, b)
			}
		}
	}
	compare("", a, b)
	if !slices.Contains([]byte{'{'}, got[0]) || len(got) < 200 {
		t.Errorf("%s: it says nothing: %s", what, got)
	}
}
