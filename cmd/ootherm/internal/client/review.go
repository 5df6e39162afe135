package client

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"text/tabwriter"

	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
)

// Review writes a season's review as JSON. Days are like 2026-01-01; empty days mean the
// year so far. An empty dam means all dams.
func (c *Client) Review(ctx context.Context, w io.Writer, from, to, dam string) error {
	return c.Ask(ctx, http.MethodGet, "/api/v1/review?"+url.Values{"from": {from}, "to": {to}, "dam": {dam}}.Encode(), nil, w)
}

// BookCSV writes the book's entries as a table for a spreadsheet.
func (c *Client) BookCSV(ctx context.Context, w io.Writer) error {
	lines, in := io.Pipe()
	go func() { in.CloseWithError(c.WriteBook(ctx, in)) }()
	defer lines.Close()
	entries, err := book.ReadAll(lines)
	if err != nil {
		return err
	}
	return bookfile.WriteCSV(w, func(yield func(book.Entry) bool) {
		for _, e := range entries {
			if !yield(e) {
				return
			}
		}
	}, c.place())
}

// reviewRatio and reviewTally are the part of the review's JSON that is printed.
type reviewRatio struct {
	Count, Of int
	Low       *float64 `json:"low_95"`
	High      *float64 `json:"high_95"`
}

func (x reviewRatio) String() string {
	if x.Low == nil || x.High == nil {
		return "-"
	}
	return fmt.Sprintf("%d of %d (%.0f-%.0f %%)", x.Count, x.Of, 100**x.Low, 100**x.High)
}

type reviewTally struct {
	Name                    string
	Clutches, Laid, Waiting int
	Open                    int `json:"in_clutches_that_wait"`
	Unknown                 int `json:"without_a_verdict"`
	Young                   int `json:"hatchlings_under_14_days"`
	Fertile, Hatched        reviewRatio
	Alive                   reviewRatio `json:"alive_14_days"`
	Days                    struct {
		Clutches int
		Ratio    *float64 `json:"of_expected"`
	}
	Comparisons []struct {
		StandsOut bool `json:"stands_out"`
		Says      string
	}
	Survival []struct{ Days, Alive float64 }
}

// writeRow writes a tally as a row of the table.
func (x reviewTally) writeRow(w io.Writer, name string) {
	days := "-"
	if x.Days.Ratio != nil {
		days = fmt.Sprintf("%+.0f %% (%d)", 100*(*x.Days.Ratio-1), x.Days.Clutches)
	}
	fmt.Fprintf(w, "%s\t%d\t%d\t%d\t%s\t%s\t%s\t%s\n", name, x.Clutches, x.Laid, x.Waiting, x.Fertile, x.Hatched, x.Alive, days)
}

// DescribeReview writes a review for a person: the table, the comparisons that stand out,
// and everything about the dam that is named.
func DescribeReview(w io.Writer, body []byte, dam string) error {
	var r struct {
		Comparisons int
		Room        reviewTally
		Dams, Apart []reviewTally
	}
	if err := json.Unmarshal(body, &r); err != nil {
		return fmt.Errorf("the review: %w", err)
	}
	var out bytes.Buffer
	if r.Room.Clutches == 0 {
		if _, err := fmt.Fprintln(w, "By the book no clutch was found in these days."); err != nil {
			return fmt.Errorf("the review: %w", err)
		}
		return nil
	}
	t := tabwriter.NewWriter(&out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "dam\tclutches\teggs\twaiting\tfertile\thatched\talive at 14 days\tdays")
	for _, x := range r.Dams {
		x.writeRow(t, x.Name)
	}
	for _, x := range r.Apart {
		if x.Name == "" {
			x.Name = "not noted"
		}
		x.writeRow(t, x.Name+" (apart)")
	}
	r.Room.writeRow(t, "all together")
	_ = t.Flush() // writing to memory does not fail
	fmt.Fprintln(&out, "In brackets is the 95 % interval; days are compared with those expected from the heat.")
	for _, x := range words.NotKnownYet(r.Room.Open, r.Room.Unknown, r.Room.Young) {
		fmt.Fprintf(&out, "Not known yet: %s.\n", x)
	}
	stands := false
	for _, x := range r.Dams {
		for _, c := range x.Comparisons {
			if c.StandsOut || x.Name == dam {
				fmt.Fprintf(&out, "%s: %s\n", x.Name, c.Says)
			}
			stands = stands || c.StandsOut
		}
		if x.Name != dam {
			continue
		}
		for _, s := range x.Survival {
			fmt.Fprintf(&out, "%s's hatchlings: %.0f %% alive from day %.0f on\n", dam, 100*s.Alive, s.Days)
		}
	}
	if !stands && dam == "" {
		fmt.Fprintf(&out, "Nothing stands out: of %d comparisons of a dam with the others none shows more than chance may.\n", r.Comparisons)
	}
	if _, err := w.Write(out.Bytes()); err != nil {
		return fmt.Errorf("the review: %w", err)
	}
	return nil
}
