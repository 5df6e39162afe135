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

// zoneState is the JSON of a zone that a broker retains. Values are rounded to what a
// sensor resolves, so that noise does not publish a new state.
type zoneState struct {
	Zone         string   `json:"zone"`
	Kind         string   `json:"kind"`
	Celsius      *float64 `json:"temperature_c"`        // to 0.1
	Humidity     *float64 `json:"relative_humidity"`    // to 0.01
	DewPoint     *float64 `json:"dew_point_c"`          // to 0.1
	TrendPerHour *float64 `json:"trend_c_per_hour"`     // to 0.5
	State        string   `json:"state"`                // priority of its worst alarm: critical, warning, notice; or normal
	Silent       []string `json:"probes_without_value"` // by name
}

// alarmState is the JSON of an alarm that a broker retains.
type alarmState struct {
	Key      string     `json:"key"`
	Alarm    string     `json:"alarm"`
	Zone     *string    `json:"zone"`
	Box      *string    `json:"box"`
	Probe    *string    `json:"probe"`
	Priority string     `json:"priority"`
	State    string     `json:"state"` // normal, or a state as in snapshot.Alarm
	Since    *time.Time `json:"since"`
	Value    *float64   `json:"value"` // in the unit of snapshot.Alarm, rounded by partsPerUnit
	Limit    *float64   `json:"limit"`
}

// retainedStates returns the messages that a broker retains, by topic: zone/ZONE for every
// zone, and alarm/KEY for every alarm that can be raised.
func retainedStates(n *snapshot.Snapshot) (map[string][]byte, error) {
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
			x.Value, x.Limit = rounded(a.Value, partsPerUnit(a.Alarm)), a.Limit
		}
		// The key's own slashes separate topic levels. Names in it have / : and % escaped already.
		topic := strings.NewReplacer("+", "%2B", "#", "%23").Replace(k.Key)
		if err := put("alarm/"+topic, x); err != nil {
			return nil, fmt.Errorf("the state of %s: %w", k.Key, err)
		}
	}
	return all, nil
}

// partsPerUnit returns the resolution of an alarm's published value, in parts of its unit:
// a minute, a hundredth of a ratio, a tenth of a degree.
func partsPerUnit(alarm string) float64 {
	switch alert.Kind(alarm).Unit() {
	case alert.Seconds:
		return 1.0 / 60
	case alert.Ratio:
		return 100
	}
	return 10
}

// rounded rounds a value to parts of its unit.
func rounded(v *float64, parts float64) *float64 {
	if v == nil {
		return nil
	}
	return snapshot.OptFloat(math.Round(*v*parts) / parts)
}

// publishRetained keeps the state up to date at each broker that the configuration names
// for it, until the context ends.
func (d *daemon) publishRetained(ctx context.Context) error {
	var brokers []*mqtt.State
	var names []string
	for _, x := range d.cfg.Senders {
		if x.Kind != "mqtt" || !x.State {
			continue
		}
		k, err := mqtt.NewState(senders.BrokerOf(x, d.plan, d.dialer))
		if err != nil {
			return usererr.Usage(fmt.Errorf("sender %s: %w", x.Name, err))
		}
		brokers, names = append(brokers, k), append(names, x.Name)
	}
	current := func() map[string][]byte {
		n := stateSource{d.loop}.Now()
		if n == nil {
			return nil // the station has not stepped yet
		}
		states, err := retainedStates(n)
		if err != nil {
			d.logFailure(err)
		}
		return states
	}
	var jobs sync.WaitGroup
	for i, k := range brokers {
		jobs.Go(func() {
			k.Keep(ctx, max(d.plan.Every, time.Second), current, func(err error) {
				d.log.Error("the state does not reach its broker", "sender", names[i], "err", err)
			})
		})
	}
	jobs.Wait()
	return nil
}
