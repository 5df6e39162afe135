package main

import (
	"reflect"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/problem"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/seasons"
)

// address is one address for programs.
type address struct {
	method, path, id, summary string
	parameters                []parameter
	takesKind                 string // media type of the body; empty: none
	takes                     object // its schema; nil: text
	kind                      string // media type of the answer; empty: none
	gives                     reflect.Type
	textErrors                bool // errors are text and no problem
}

// parameter is one member of a query.
type parameter struct {
	name, words, format string
	required            bool
	among               []string
}

// reading is one reading in the answer to /api/v1/readings.
type reading struct {
	At       time.Time `json:"at"`
	Celsius  *float64  `json:"temperature_c"`
	Humidity *float64  `json:"relative_humidity"`
	Cause    *string   `json:"cause"` // why it is not believed; null where it is
}

// readings are the readings of one probe.
type readings struct {
	Readings []reading `json:"readings"`
}

var problemType = reflect.TypeFor[problem.Details]()

const asJSON = "application/json"

var (
	from = parameter{name: "from", words: "not before this time; without it a day before to", format: "date-time"}
	to   = parameter{name: "to", words: "before this time; without it now", format: "date-time"}
)

// addresses are all addresses for programs.
var addresses = []address{
	{method: "get", path: "/api/v1/now", id: "now", summary: "The state: zones, probes, boxes, clutches and windows, alarms, dams, health.", kind: asJSON, gives: reflect.TypeFor[snapshot.Snapshot]()},
	{method: "get", path: "/api/v1/readings", id: "readings", summary: "The readings of a probe.", kind: asJSON, gives: reflect.TypeFor[readings](),
		parameters: []parameter{{name: "probe", words: "its name", required: true}, from, to,
			{name: "raw", words: "true: as the part gave them, neither corrected nor kept within 0 to 100 %", among: []string{"true", "false"}}}},
	{method: "get", path: "/api/v1/book", id: "book", summary: "The book: one entry as JSON in each line.", kind: "application/x-ndjson"},
	{method: "post", path: "/api/v1/book", id: "note", summary: "Adds entries to the book, all or none: one entry as JSON in each line.", takesKind: "application/x-ndjson"},
	{method: "post", path: "/api/v1/act", id: "act", summary: "Acts on an alarm, or on every alarm of a zone.", takesKind: asJSON, takes: object{
		"type": "object", "required": []string{"do"}, "additionalProperties": false,
		"properties": object{
			"do":    object{"type": "string", "enum": []string{"acknowledge", "shelve", "unshelve", "out-of-service", "in-service"}},
			"alarm": object{"type": "string", "description": "the key of an alarm"},
			"zone":  object{"type": "string", "description": "instead of an alarm: every alarm of the zone"},
			"who":   object{"type": "string", "description": "who does it, for the record"},
			"for":   object{"type": "string", "description": "of shelve: a duration such as 1h, at most 24h"},
		},
	}},
	{method: "post", path: "/api/v1/test-message", id: "sendTest", summary: "Sends a test message by a sender; at the station's socket alone.", takesKind: asJSON, takes: object{
		"type": "object", "required": []string{"sender"}, "additionalProperties": false,
		"properties": object{"sender": object{"type": "string", "description": "its name"}},
	}},
	{method: "get", path: "/api/v1/review", id: "review", summary: "A season: each dam beside the others.", kind: asJSON, gives: reflect.TypeFor[seasons.View](),
		parameters: []parameter{{name: "from", words: "first day", format: "date"}, {name: "to", words: "last day", format: "date"}, {name: "dam", words: "one dam alone"}}},
	{method: "get", path: "/api/v1/incident", id: "incident", summary: "A span of time: extremes, alarms, and the heat that eggs got.", kind: asJSON, gives: reflect.TypeFor[snapshot.Incident](),
		parameters: []parameter{from, to, {name: "zone", words: "one zone alone"}}},
	{method: "get", path: "/api/v1/rehearsal", id: "rehearsal", summary: "Heater failures laid over a zone's last three weeks.", kind: asJSON, gives: reflect.TypeFor[snapshot.Rehearsal](),
		parameters: []parameter{{name: "zone", words: "its name", required: true}}},
	{method: "get", path: "/api/v1/score", id: "score", summary: "How right the shown windows were.", kind: asJSON, gives: reflect.TypeFor[snapshot.Score]()},
	{method: "get", path: "/api/v1/backup", id: "backup", summary: "The records, as ootherm backup writes them; at the station's socket alone.", kind: "application/octet-stream"},
	{method: "get", path: "/api/v1/openapi.json", id: "openapi", summary: "This document.", kind: asJSON, gives: reflect.TypeFor[map[string]any]()},
	{method: "get", path: "/healthz", id: "health", summary: "One line: 200 while readings are taken and kept, else 503.", kind: "text/plain", textErrors: true},
	{method: "get", path: "/metrics", id: "metrics", summary: "Metrics in the text format of Prometheus.", kind: "text/plain", textErrors: true},
}
