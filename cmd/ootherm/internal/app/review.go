package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"text/tabwriter"

	"example.com/ootherm/thermal/book"
)

// Review writes a season's review as JSON. Days are like 2026-01-01; empty is the
// year so far.
func (c *Client) Review(ctx context.Context, w io.Writer, from, to string) error {
	return c.ask(ctx, http.MethodGet, "/api/v1/review?"+url.Values{"from": {from}, "to": {to}}.Encode(), nil, w)
}

// BookCSV writes the book's entries as a table for a spreadsheet.
func (c *Client) BookCSV(ctx context.Context, w io.Writer) error {
	lines, in := io.Pipe()
	go func() { in.CloseWithError(c.Book(ctx, in)) }()
	defer lines.Close()
	entries, err := book.ReadAll(lines)
	if err != nil {
		return err
	}
	return book.WriteCSV(w, func(yield func(book.Entry) bool) {
		for _, e := range entries {
			if !yield(e) {
				return
			}
		}
	})
}

// DescribeReview says a review in words.
func DescribeReview(w io.Writer, body []byte) error {
	type ratio struct {
		Count, Of int
		Low       *float64 `json:"low_95"`
		High      *float64 `json:"high_95"`
	}
	type tally struct {
		Name                    string
		Clutches, Laid, Waiting int
		Fertile, Hatched        ratio
		Alive                   ratio `json:"alive_14_days"`
		Says                    []string
	}
	var r struct {
		Room        tally
		Dams, Apart []tally
	}
	if err := json.Unmarshal(body, &r); err != nil {
		return fmt.Errorf("app: the review: %w", err)
	}
	share := func(x ratio) string {
		if x.Low == nil || x.High == nil {
			return "-"
		}
		return fmt.Sprintf("%d of %d (%.0f-%.0f %%)", x.Count, x.Of, 100**x.Low, 100**x.High)
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	row := func(name string, x tally) {
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\t%s\t%s\n", name, x.Clutches, x.Laid, share(x.Fertile), share(x.Hatched), share(x.Alive))
	}
	fmt.Fprintln(t, "dam\tclutches\teggs\tfertile\thatched\talive at 14 days")
	for _, x := range r.Dams {
		row(x.Name, x)
	}
	for _, x := range r.Apart {
		if x.Name == "" {
			x.Name = "not noted"
		}
		row(x.Name+" (apart)", x)
	}
	row("all together", r.Room)
	if err := t.Flush(); err != nil {
		return err
	}
	for _, x := range r.Dams {
		for _, s := range x.Says {
			if _, err := fmt.Fprintf(w, "%s: %s\n", x.Name, s); err != nil {
				return err
			}
		}
	}
	return nil
}
