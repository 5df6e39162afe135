package brokerstate

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Discovery tells a hub of what there is to show, by the convention of MQTT discovery that
// hubs share (Home Assistant documentation, "MQTT discovery" and "MQTT Sensor"): a retained
// message under PREFIX/COMPONENT/NODE/OBJECT/config for each value.
type Discovery struct {
	Prefix, Topic, Station, Version string

	// Moist holds the topics that had a humidity: one that is silent is not taken back.
	Moist map[string]bool
}

// node names the station in topics and identities. A hub takes letters, digits, _ and - there.
func (d Discovery) node() string { return "ootherm_" + identifier(d.Topic) }

// Filter matches the topics of all announcements of this station.
func (d Discovery) Filter() string { return d.Prefix + "/+/" + d.node() + "/+/config" }

// identifier is a name that a hub takes, and that differs where names differ.
func identifier(name string) string {
	sum := sha256.Sum256([]byte(name))
	plain := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return '_'
	}, strings.ToLower(name))
	return plain + "_" + hex.EncodeToString(sum[:3])
}

// announcement is the JSON of one value to show.
type announcement struct {
	Name          string    `json:"name"`
	UniqueID      string    `json:"unique_id"`
	StateTopic    string    `json:"state_topic"`
	ValueTemplate string    `json:"value_template"`
	Unit          string    `json:"unit_of_measurement,omitempty"`
	DeviceClass   string    `json:"device_class,omitempty"`
	StateClass    string    `json:"state_class,omitempty"`
	PayloadOn     string    `json:"payload_on,omitempty"`
	PayloadOff    string    `json:"payload_off,omitempty"`
	Availability  string    `json:"availability_topic"`
	ExpireAfter   int       `json:"expire_after,omitempty"` // seconds
	Device        hubDevice `json:"device"`
}

// hubDevice is the station, to which all values belong.
type hubDevice struct {
	Identifiers []string `json:"identifiers"`
	Name        string   `json:"name"`
	Version     string   `json:"sw_version"`
}

// expireSeconds is after how long a hub shows a value no more. A state is published again
// after five minutes at the latest (our choice: three times that).
const expireSeconds = 900

// Announce adds the announcements of a snapshot: the temperature and the humidity of each
// zone and probe, the state of each zone, and the development and window of each clutch.
func (d Discovery) Announce(n *snapshot.Snapshot, all map[string]mqtt.Retained) error {
	r := &retained{below: d.Prefix + "/", all: all}
	add := func(component, object, topic string, a announcement) {
		a.UniqueID = d.node() + "_" + object
		a.StateTopic = d.Topic + "/state/" + topic
		a.Availability = d.Topic + "/status"
		a.Device = hubDevice{[]string{d.node()}, d.Station, d.Version}
		r.put(component+"/"+d.node()+"/"+object+"/config", a, a)
	}
	air := func(name, topic string, humidity bool) {
		id := identifier(topic)
		add("sensor", id+"_temperature", topic, announcement{Name: name + " temperature", ValueTemplate: "{{ value_json.temperature_c }}",
			Unit: "°C", DeviceClass: "temperature", StateClass: "measurement", ExpireAfter: expireSeconds})
		if d.Moist[topic] = d.Moist[topic] || humidity; d.Moist[topic] {
			add("sensor", id+"_humidity", topic, announcement{Name: name + " humidity", ValueTemplate: "{{ (value_json.relative_humidity * 100) | round(0) if value_json.relative_humidity is not none else none }}",
				Unit: "%", DeviceClass: "humidity", StateClass: "measurement", ExpireAfter: expireSeconds})
		}
	}
	for _, z := range n.Zones {
		topic := "zone/" + mqtt.Level(z.Zone)
		air(z.Zone, topic, z.Humidity != nil)
		add("sensor", identifier(topic)+"_state", topic, announcement{Name: z.Zone + " state", ValueTemplate: "{{ value_json.state }}"})
		add("binary_sensor", identifier(topic)+"_problem", topic, announcement{Name: z.Zone + " eggs at risk", DeviceClass: "problem", PayloadOn: "ON", PayloadOff: "OFF",
			ValueTemplate: "{{ 'ON' if value_json.state == 'critical' else 'OFF' }}"})
		for _, p := range z.Probes {
			air(p.Probe, "probe/"+mqtt.Level(p.Probe), p.Humidity != nil)
		}
	}
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			topic := "clutch/" + mqtt.Level(b.Box) + "/" + mqtt.Level(c.Clutch)
			if _, ok := all[d.Topic+"/state/"+topic]; !ok {
				continue // no egg of it waits
			}
			id, name := identifier(topic), c.Clutch+" in "+b.Box
			add("sensor", id+"_developed", topic, announcement{Name: name + " developed", Unit: "%",
				ValueTemplate: "{{ (value_json.developed * 100) | round(0) if value_json.developed is not none else none }}"})
			add("sensor", id+"_check_from", topic, announcement{Name: name + " check from", DeviceClass: "timestamp", ValueTemplate: "{{ value_json.check_from }}"})
			add("sensor", id+"_state", topic, announcement{Name: name + " state", ValueTemplate: "{{ value_json.state }}"})
		}
	}
	return r.err
}
