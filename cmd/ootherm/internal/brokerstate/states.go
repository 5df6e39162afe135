// Package brokerstate makes the messages that a broker keeps of the present state, and those
// that announce them to a hub. It owns their topics and their JSON. It must not know how they
// get to the broker.
package brokerstate

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// zoneState is the JSON of a zone that a broker retains. Values are rounded to what a
// sensor resolves, so that noise does not publish a new state.
type zoneState struct {
	At           *time.Time `json:"at"` // of the newest reading of its probes
	Zone         string     `json:"zone"`
	Kind         string     `json:"kind"`
	Celsius      *float64   `json:"temperature_c"`        // to 0.1
	Humidity     *float64   `json:"relative_humidity"`    // to 0.01
	DewPoint     *float64   `json:"dew_point_c"`          // to 0.1
	TrendPerHour *float64   `json:"trend_c_per_hour"`     // to 0.5
	State        string     `json:"state"`                // priority of its worst alarm: critical, warning, notice; or normal, or unknown where nothing is measured
	Silent       []string   `json:"probes_without_value"` // by name
}

// probeState is the JSON of a probe that a broker retains.
type probeState struct {
	At       *time.Time `json:"at"` // of the last believed reading
	Probe    string     `json:"probe"`
	Zone     string     `json:"zone"`
	Celsius  *float64   `json:"temperature_c"`     // to 0.1
	Humidity *float64   `json:"relative_humidity"` // to 0.01
	Status   string     `json:"status"`            // as in snapshot.Probe
}

// boxState is the JSON of a box that a broker retains.
type boxState struct {
	At        time.Time  `json:"at"` // of the state
	Box       string     `json:"box"`
	Zone      string     `json:"zone"`
	Clutches  []string   `json:"clutches"` // whose eggs wait in it
	Waiting   int        `json:"eggs_waiting"`
	WeighNext *time.Time `json:"weigh_next"`
	AddWater  *float64   `json:"add_g"` // to 1
}

// clutchState is the JSON of the eggs of a clutch in a box that a broker retains.
type clutchState struct {
	At        time.Time  `json:"at"` // of the state
	Clutch    string     `json:"clutch"`
	Box       string     `json:"box"`
	Dam       *string    `json:"dam"`
	State     *string    `json:"state"`     // as in snapshot.Clutch
	Developed *float64   `json:"developed"` // to 0.01
	SoFar     *float64   `json:"degree_days"`
	Required  *float64   `json:"required_degree_days"`
	CheckFrom *time.Time `json:"check_from"` // of the window; null without one
	Likely    *time.Time `json:"likely"`
	LateAfter *time.Time `json:"late_after"`
	Waiting   int        `json:"eggs_waiting"`
}

// alarmState is the JSON of an alarm that a broker retains.
type alarmState struct {
	At       time.Time  `json:"at"` // of the state
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

// retained collects messages below a topic.
type retained struct {
	below string
	all   map[string]mqtt.Retained
	err   error
}

// put adds a message. Same is its value without its time.
func (r *retained) put(topic string, same, v any) {
	text, err := json.Marshal(same)
	if err == nil {
		var payload []byte
		if payload, err = json.Marshal(v); err == nil {
			r.all[r.below+topic] = mqtt.Retained{Payload: payload, Same: string(text)}
			return
		}
	}
	if r.err == nil {
		r.err = fmt.Errorf("the state %s: %w", topic, err)
	}
}

// States returns the messages that a broker retains, by topics below one: zone/ZONE,
// probe/PROBE, box/BOX, clutch/BOX/CLUTCH, and alarm/KEY for every alarm that can be raised.
func States(n *snapshot.Snapshot, below string) (map[string]mqtt.Retained, error) {
	r := &retained{below: below, all: map[string]mqtt.Retained{}}
	worst := worstAlarms(n)
	for _, z := range n.Zones {
		r.zone(z, worst[z.Zone])
	}
	for _, b := range n.Boxes {
		r.box(b, n.At)
	}
	r.alarms(n)
	return r.all, r.err
}

// worstAlarms returns the priority of the worst alarm of each zone.
func worstAlarms(n *snapshot.Snapshot) map[string]string {
	rank := map[string]int{"notice": 1, "warning": 2, "critical": 3}
	worst := map[string]string{}
	for _, a := range n.Alarms {
		if a.Zone != nil && (a.State == "active" || a.State == "acknowledged") && rank[a.Priority] > rank[worst[*a.Zone]] {
			worst[*a.Zone] = a.Priority
		}
	}
	return worst
}

func (r *retained) zone(z snapshot.Zone, worst string) {
	x := zoneState{
		Zone: z.Zone, Kind: z.Kind, Celsius: rounded(z.Celsius, 10), Humidity: rounded(z.Humidity, 100),
		DewPoint: rounded(z.DewPoint, 10), TrendPerHour: rounded(z.TrendPerHour, 2), State: worst, Silent: []string{},
	}
	switch {
	case worst == "" && z.Celsius == nil:
		x.State = "unknown"
	case worst == "":
		x.State = "normal"
	}
	var newest *time.Time
	for _, p := range z.Probes {
		up := p.Status != "stale" && p.Status != "missing"
		if !up {
			x.Silent = append(x.Silent, p.Probe)
		}
		if p.LastGood != nil && (newest == nil || p.LastGood.After(*newest)) {
			newest = p.LastGood
		}
		y := probeState{Probe: p.Probe, Zone: z.Zone, Status: p.Status}
		if up {
			y.Celsius, y.Humidity = rounded(p.Celsius, 10), rounded(p.Humidity, 100)
		}
		same := y
		y.At = p.LastGood
		r.put("probe/"+mqtt.Level(p.Probe), same, y)
	}
	same := x
	x.At = newest
	r.put("zone/"+mqtt.Level(z.Zone), same, x)
}

func (r *retained) box(b snapshot.Box, at time.Time) {
	x := boxState{Box: b.Box, Zone: b.Zone, Clutches: []string{}}
	for _, c := range b.Clutches {
		waiting := 0
		for _, e := range c.Eggs {
			if e.Fate == "waiting" || e.Fate == "pipped" {
				waiting++
			}
		}
		if waiting == 0 {
			continue
		}
		x.Clutches, x.Waiting = append(x.Clutches, c.Clutch), x.Waiting+waiting
		y := clutchState{Clutch: c.Clutch, Box: b.Box, Dam: c.Dam, State: c.State, Developed: rounded(c.Developed, 100), Waiting: waiting}
		if d := c.DegreeDays; d != nil {
			y.SoFar, y.Required = rounded(&d.SoFar, 1), rounded(&d.Required, 1)
		}
		if w := c.Window; w != nil {
			// To the day: it moves a little at each reading.
			y.CheckFrom, y.Likely, y.LateAfter = day(w.CheckFrom), day(w.Likely), day(w.LateAfter)
		}
		same := y
		y.At = at
		r.put("clutch/"+mqtt.Level(b.Box)+"/"+mqtt.Level(c.Clutch), same, y)
	}
	if m := b.Medium; m != nil {
		x.WeighNext, x.AddWater = m.WeighNext, rounded(m.Add, 1)
	}
	same := x
	x.At = at
	r.put("box/"+mqtt.Level(b.Box), same, x)
}

// day is the beginning of a time's day in UTC; nil where there is no time.
func day(t time.Time) *time.Time {
	return snapshot.OptTime(t.UTC().Truncate(24 * time.Hour))
}

func (r *retained) alarms(n *snapshot.Snapshot) {
	alarms := map[string]snapshot.Alarm{}
	for _, a := range n.Alarms {
		alarms[a.Key] = a
	}
	for _, k := range n.Known {
		x := alarmState{Key: k.Key, Alarm: k.Alarm, Zone: snapshot.OptText(k.Zone), Probe: snapshot.OptText(k.Probe), Priority: k.Priority, State: "normal"}
		if a, ok := alarms[k.Key]; ok {
			since := a.Since
			x.Zone, x.Box, x.Probe, x.State, x.Since = a.Zone, a.Box, a.Probe, a.State, &since
			x.Value, x.Limit = rounded(a.Value, partsPerUnit(a.Alarm)), a.Limit
		}
		same := x
		x.At = n.At
		r.put("alarm/"+keyTopic(k.Key), same, x)
	}
}

// keyTopic is the key of an alarm in a topic. Its own slashes separate levels; names in it
// have / : and % escaped already.
func keyTopic(key string) string { return strings.NewReplacer("+", "%2B", "#", "%23").Replace(key) }

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
