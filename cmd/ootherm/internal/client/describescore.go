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
	const figures = "eggs\thatched inside the window\tdays off the likely day\tdays wide\t"
	line := func(at string, n int, inside, off, wide *float64) {
		share := func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) }
		fmt.Fprintf(t, "%s\t%d\t%s\t%s\t%s\t\n", at, n, figure(inside, share), figure(off, days("%.1f")), figure(wide, days("%.0f")))
	}
	fmt.Fprintln(t, "of the way\t"+figures)
	for _, x := range b.Ways {
		line(fmt.Sprintf("%.0f %%", 100*x.Way), x.N, x.Inside, x.MeanDaysOff, x.MeanWidth)
	}
	fmt.Fprintln(t, "after laying\t"+figures)
	for _, x := range b.Ages {
		line(fmt.Sprintf("%.0f days", x.AgeDays), x.N, x.Inside, x.MeanDaysOff, x.MeanWidth)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w, "A window is meant to hold 85 % of the hatches: it runs from 10 to 95 %.")
	return err
}

// days formats a number of days.
func days(format string) func(float64) string {
	return func(v float64) string { return fmt.Sprintf(format, v) }
}

// figure formats a figure; one that is not there is empty.
func figure(v *float64, format func(float64) string) string {
	if v == nil {
		return ""
	}
	return format(*v)
}
