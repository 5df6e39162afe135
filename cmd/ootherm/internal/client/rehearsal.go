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

// Rehearsal gives what the early warning would have made of failures in a zone.
func (c *Client) Rehearsal(ctx context.Context, zone string) (x snapshot.Rehearsal, err error) {
	var b bytes.Buffer
	if err := c.Ask(ctx, http.MethodGet, "/api/v1/rehearsal?"+url.Values{"zone": {zone}}.Encode(), nil, &b); err != nil {
		return x, err
	}
	if err := json.Unmarshal(b.Bytes(), &x); err != nil {
		return x, fmt.Errorf("the rehearsal: %w", err)
	}
	return x, nil
}

// DescribeRehearsals writes rehearsals for a person. Days are named as seen from a time.
func DescribeRehearsals(w io.Writer, r words.Reader, all []snapshot.Rehearsal, at time.Time) error {
	var b bytes.Buffer
	in := words.Rehearsal{Reader: r, At: at}
	limits := 0
	for i, x := range all {
		if i > 0 {
			fmt.Fprintln(&b)
		}
		fmt.Fprintf(&b, "%s. %s\n", x.Zone, in.Span(x))
		if text := in.Learning(x.LearningUntil); text != "" {
			fmt.Fprintln(&b, "  "+text)
		}
		for _, l := range x.Limits {
			limits++
			t := in.Limit(l)
			fmt.Fprintln(&b, "  "+t.Name)
			if t.Short != "" {
				fmt.Fprintln(&b, "    "+t.Short)
			}
			for _, line := range t.Lines {
				fmt.Fprintln(&b, "    "+line)
			}
		}
		if len(x.Limits) == 0 {
			fmt.Fprintln(&b, "  No band is in force here, so there is no early warning.")
		}
	}
	if limits > 0 {
		fmt.Fprintf(&b, "\n%s\n", in.Laid())
		for _, note := range words.RehearsalNotes() {
			fmt.Fprintln(&b, note)
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}
