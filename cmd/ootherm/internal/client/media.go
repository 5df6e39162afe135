package client

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// BoxMedium is a box in use, and the water of its medium by its weighings.
type BoxMedium struct {
	Box string `json:"box"`
	snapshot.Medium
}

// Media gives the media of the named boxes, or of all boxes in use without names.
func Media(n *snapshot.Snapshot, boxes []string) ([]BoxMedium, error) {
	all := []BoxMedium{}
	var used []string
	for _, b := range n.Boxes {
		used = append(used, b.Box)
		if b.Medium != nil && (len(boxes) == 0 || slices.Contains(boxes, b.Box)) {
			all = append(all, BoxMedium{b.Box, *b.Medium})
		}
	}
	for _, name := range boxes {
		if !slices.Contains(used, name) {
			return nil, fmt.Errorf("no box %q is in use; in use: %s", name, words.List(used))
		}
	}
	return all, nil
}

// DescribeMedia writes how much water each box needs, for a person.
func DescribeMedia(w io.Writer, all []BoxMedium, at time.Time, r words.Reader) error {
	if len(all) == 0 {
		_, err := fmt.Fprintln(w, "No box is in use.")
		return err
	}
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', 0)
	for _, m := range all {
		next := ""
		if m.WeighNext != nil {
			next = "weigh next " + r.Date(*m.WeighNext)
			if !at.Before(*m.WeighNext) {
				next = "weigh it, due since " + r.Date(*m.WeighNext)
			}
		}
		var parts []string
		switch {
		case m.Unknown != nil:
			parts = append(parts, *m.Unknown)
		case m.Warning != nil:
			parts = append(parts, *m.Warning)
		case m.Add != nil:
			parts = append(parts, "add "+words.ToAdd(*m.AddLow, *m.AddHigh))
		}
		if left := words.RatioLeft(m.Medium); left != "" {
			parts = append(parts, "now "+left)
		}
		if m.PerDay != nil {
			parts = append(parts, "loses "+words.Grams(*m.PerDay)+" a day")
		}
		if m.Drying != nil && m.Drying.Lost != nil {
			parts = append(parts, "since it was last weighed or watered it has probably lost "+words.Range(*m.Drying.LostLow, *m.Drying.LostHigh))
		}
		fmt.Fprintf(t, "%s\t%s\t%s\n", m.Box, next, strings.Join(parts, "; "))
	}
	return t.Flush()
}
