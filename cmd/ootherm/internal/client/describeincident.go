package client

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Incident writes what happened in a span as JSON. Empty times mean the last day; an empty
// zone means all zones.
func (c *Client) Incident(ctx context.Context, w io.Writer, from, to, zone string) error {
	return c.Ask(ctx, http.MethodGet, "/api/v1/incident?"+url.Values{"from": {from}, "to": {to}, "zone": {zone}}.Encode(), nil, w)
}

// DescribeIncident writes an incident for a person. Days are named as seen from a time.
func DescribeIncident(w io.Writer, r words.Reader, body []byte, at time.Time) error {
	var x snapshot.Incident
	if err := json.Unmarshal(body, &x); err != nil {
		return fmt.Errorf("the incident: %w", err)
	}
	var b bytes.Buffer
	in := words.Incident{Reader: r, At: at}
	section := func(t words.IncidentText) {
		fmt.Fprintln(&b, t.Name)
		for _, line := range t.Lines {
			fmt.Fprintln(&b, "  "+line)
		}
	}
	fmt.Fprintf(&b, "%s, %s\n", in.Between(x.From, x.To, at), words.Span(x.To.Sub(x.From)))
	for _, z := range x.Zones {
		section(in.Zone(z))
	}
	t := words.IncidentText{Name: "alarms"}
	for _, a := range x.Alarms {
		t.Lines = append(t.Lines, in.Alarm(a)+in.Seen(a))
	}
	if len(t.Lines) == 0 {
		t.Lines = []string{"none"}
	}
	section(t)
	for _, c := range x.Clutches {
		section(in.Clutch(c))
	}
	if len(x.Clutches) > 0 {
		fmt.Fprintln(&b, words.NoSurvival)
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("the incident: %w", err)
	}
	return nil
}
