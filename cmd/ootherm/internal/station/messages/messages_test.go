package messages

import (
	"errors"
	"iter"
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"github.com/google/go-cmp/cmp"
)

var at = time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)

// What eggs felt in all is left out once a person has seen it; another alarm is not.
func TestStanding(t *testing.T) {
	all, warm := alert.Key{Kind: alert.Cumulative, Box: "B1"}, alert.Key{Kind: alert.TemperatureHigh, Zone: "room"}
	for name, c := range map[string]struct {
		states map[alert.Key]alert.State
		want   int
	}{
		"not seen": {map[alert.Key]alert.State{all: alert.Active, warm: alert.Active}, 2},
		"seen":     {map[alert.Key]alert.State{all: alert.Acknowledged, warm: alert.Acknowledged}, 1},
	} {
		var stored []alert.Alarm
		limits := map[alert.Key]alert.Limit{}
		for k, s := range c.states {
			stored = append(stored, alert.Alarm{Key: k, State: s, True: true, Acked: s == alert.Acknowledged, Limit: alert.Limit{High: true}})
			limits[k] = alert.Limit{High: true}
		}
		p := panel.New(stored, time.Minute)
		p.Step(at)
		p.Want(limits, panel.Places{Zones: []string{"room"}}, "")
		for k := range limits {
			p.Show(k, panel.Reading{Value: 1, Known: true})
		}
		got := Standing(p)
		if len(got) != c.want || got[len(got)-1].Key != warm {
			t.Errorf("%s: %+v, want %d with the last of %v", name, got, c.want, warm)
		}
	}
}

// days is a history by probe: a reading each hour, the last one first.
type days struct {
	pastreadings.History
	celsius map[string][]float64
}

var errTorn = errors.New("torn")

func (d days) Range(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return func(yield func(history.Point, error) bool) {
		for i, c := range slices.Backward(d.celsius[probe]) {
			var p history.Point
			var err error
			p.At, p.Probe, p.Measurement = at.Add(-time.Duration(i)*time.Hour), probe, sensor.Measurement{Celsius: c, Humidity: math.NaN()}
			if math.IsInf(c, 0) {
				err = errTorn
			}
			if !p.At.Before(from) && p.At.Before(to) && !yield(p, err) {
				return
			}
		}
	}
}

// The extremes of a zone's last day leave out what is older, and a zone without a reading.
// Readings that cannot be read leave the rest.
func TestLastDay(t *testing.T) {
	p := plan.Plan{Every: time.Minute, Zones: []plan.Zone{{Name: "room", Probes: []string{"a", "b"}}, {Name: "attic", Probes: []string{"c"}}}}
	older := make([]float64, 26)
	for i := range older {
		older[i] = 22
	}
	older[24], older[25] = 19, 10 // a day old, and older
	for name, c := range map[string]struct {
		celsius map[string][]float64
		want    map[string][2]float64
		err     error
	}{
		"two probes":     {map[string][]float64{"a": {22, 25}, "b": {21, 23}, "c": {18}}, map[string][2]float64{"room": {21, 25}, "attic": {18, 18}}, nil},
		"no reading":     {map[string][]float64{"a": {22}}, map[string][2]float64{"room": {22, 22}}, nil},
		"more than that": {map[string][]float64{"a": older}, map[string][2]float64{"room": {19, 22}}, nil},
		"an error":       {map[string][]float64{"a": {22}, "c": {math.Inf(1)}}, map[string][2]float64{"room": {22, 22}}, errTorn},
	} {
		past := pastreadings.New(pastreadings.Options{History: days{celsius: c.celsius}, Plan: p, Now: func() time.Time { return at }})
		got, err := lastDay(past.Reader(), p, at)
		if diff := cmp.Diff(c.want, got); diff != "" || !errors.Is(err, c.err) {
			t.Errorf("%s: %v (-want +got):\n%s", name, err, diff)
		}
	}
}
