package client

import (
	"fmt"
	"io"
	"text/tabwriter"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// DescribeScore writes how right the windows were, for a person.
func DescribeScore(w io.Writer, b snapshot.Score) error {
	if b.Hatches == 0 {
		_, err := fmt.Fprintln(w, "No egg has hatched yet for which a window was shown before.")
		return err
	}
	fmt.Fprintf(w, "%d eggs hatched for which a window was shown before.\n", b.Hatches)
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "of the way\teggs\thatched inside the window\tdays off the likely day\tdays wide\t")
	for _, x := range b.Ways {
		if x.N == 0 {
			fmt.Fprintf(t, "%.0f %%\t0\t\t\t\t\n", 100*x.Way)
			continue
		}
		fmt.Fprintf(t, "%.0f %%\t%d\t%.0f %%\t%.1f\t%.0f\t\n", 100*x.Way, x.N, 100**x.Inside, *x.MeanDaysOff, *x.MeanWidth)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w, "A window is meant to hold 85 % of the hatches: it runs from 10 to 95 %.")
	return err
}
