package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// zoneState is a zone as a broker keeps it: Celsius and ratios, to what a sensor is
// good for, so that noise is not news.
type zoneState struct {
	Zone         string   `json:"zone"`
	Kind         string   `json:"kind"`
	Celsius      *float64 `json:"temperature_c"`        // to 0.1
	Humidity     *float64 `json:"relative_humidity"`    // to 0.01
	DewPoint     *float64 `json:"dew_point_c"`          // to 0.1
	TrendPerHour *float64 `json:"trend_c_per_hour"`     // to 0.5
	State        string   `json:"state"`                // of the worst of its alarms: critical, warning, notice, normal
	Silent       []string `json:"probes_without_value"` // by name
}

// alarmState is an alarm as a broker keeps it.
type alarmState struct {
	Key      string     `json:"key"`
	Alarm    string     `json:"alarm"`
	Zone     *string    `json:"zone"`
	Box      *string    `json:"box"`
	Probe    *string    `json:"probe"`
	Priority string     `json:"priority"`
	State    string     `json:"state"` // normal and those of Now
	Since    *time.Time `json:"since"`
	Value    *float64   `json:"value"` // as in Now, to what fineness says
	Limit    *float64   `json:"limit"`
}

// states is what a broker keeps of a station, by topic: zone/ZONE, and alarm/KEY for
// every alarm that may be raised.
func states(n *snapshot.Snapshot) (map[string][]byte, error) {
	all := map[string][]byte{}
	put := func(topic string, v any) error {
		b, err := json.Marshal(v)
		all[topic] = b
		return err
	}
	alarms := map[string]snapshot.Alarm{}
	worst := map[string]int{}
	ranks := []string{"normal", "notice", "warning", "critical"}
	for _, a := range n.Alarms {
		alarms[a.Key] = a
		for i, p := range ranks {
			if p == a.Priority && a.Zone != nil && (a.State == "active" || a.State == "acknowledged") {
				worst[*a.Zone] = max(worst[*a.Zone], i)
			}
		}
	}
	for _, z := range n.Zones {
		x := zoneState{
			Zone: z.Zone, Kind: z.Kind, Celsius: rounded(z.Celsius, 10), Humidity: rounded(z.Humidity, 100),
			DewPoint: rounded(z.DewPoint, 10), TrendPerHour: rounded(z.TrendPerHour, 2), State: ranks[worst[z.Zone]], Silent: []string{},
		}
		for _, p := range z.Probes {
			if p.Status == "stale" || p.Status == "missing" {
				x.Silent = append(x.Silent, p.Probe)
			}
		}
		if err := put("zone/"+mqtt.Level(z.Zone), x); err != nil {
			return nil, fmt.Errorf("the state of %s: %w", z.Zone, err)
		}
	}
	for _, k := range n.Known {
		x := alarmState{Key: k.Key, Alarm: k.Alarm, Zone: snapshot.OptText(k.Zone), Probe: snapshot.OptText(k.Probe), Priority: k.Priority, State: "normal"}
		if a, ok := alarms[k.Key]; ok {
			since := a.Since
			x.Zone, x.Box, x.Probe, x.State, x.Since = a.Zone, a.Box, a.Probe, a.State, &since
			x.Value, x.Limit = rounded(a.Value, fineness(a.Alarm)), a.Limit
		}
		// The key's own levels stay levels; it has / : and % escaped in names already.
		topic := strings.NewReplacer("+", "%2B", "#", "%23").Replace(k.Key)
		if err := put("alarm/"+topic, x); err != nil {
			return nil, fmt.Errorf("the state of %s: %w", k.Key, err)
		}
	}
	return all, nil
}

// fineness is how many parts of its unit an alarm's value is told to: a minute, a
// hundredth of a ratio, a tenth of a degree.
func fineness(alarm string) float64 {
	switch alert.Kind(alarm).Unit() {
	case alert.Seconds:
		return 1.0 / 60
	case alert.Ratio:
		return 100
	}
	return 10
}

// rounded is a figure to a part of its unit.
func rounded(v *float64, parts float64) *float64 {
	if v == nil {
		return nil
	}
	return snapshot.OptFloat(math.Round(*v*parts) / parts)
}

// keepStates holds a connection to each broker that is to know the state.
func (d *daemon) keepStates(ctx context.Context) error {
	var all []*mqtt.State
	var names []string
	for _, x := range d.cfg.Senders {
		if x.Kind != "mqtt" || !x.State {
			continue
		}
		k, err := mqtt.NewState(senders.BrokerOf(x, d.plan))
		if err != nil {
			return usererr.Usage(fmt.Errorf("sender %s: %w", x.Name, err))
		}
		all, names = append(all, k), append(names, x.Name)
	}
	current := func() map[string][]byte {
		n := published{d.loop}.Now()
		if n == nil {
			return nil // the station is about to be handed over
		}
		is, err := states(n)
		if err != nil {
			d.failed(err)
		}
		return is
	}
	var jobs sync.WaitGroup
	for i, k := range all {
		jobs.Go(func() {
			k.Keep(ctx, max(d.plan.Every, time.Second), current, func(err error) {
				d.log.Error("the state does not reach its broker", "sender", names[i], "err", err)
			})
		})
	}
	jobs.Wait()
	return nil
}
