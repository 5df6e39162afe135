package replay

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"text/tabwriter"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Describe writes the result of a replay, for a person.
func Describe(w io.Writer, r Result) error {
	reader := words.Reader{Today: func() time.Time { return r.Now.At }}
	fmt.Fprintf(w, "%d readings believed", r.Readings.Accepted)
	for _, cause := range slices.Sorted(maps.Keys(r.Readings.Rejected)) {
		fmt.Fprintf(w, ", %d not: %s", r.Readings.Rejected[cause], words.Cause(cause))
	}
	fmt.Fprintln(w)
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', 0)
	for _, e := range r.Events {
		at := words.OrEmpty(e.Probe)
		if e.Box != nil {
			at = "box " + *e.Box
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s to %s\n", e.At.UTC().Format(time.RFC3339), e.Priority, words.OrEmpty(e.Zone), at, words.Alarm(e.Alarm).Wrong,
			reader.State(e.From, time.Time{}, e.At), reader.State(e.To, time.Time{}, e.At))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	return client.DescribeBoxes(w, r.Now, reader, "", nil)
}
