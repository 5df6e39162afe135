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
	const figures = "eggs\tinside the window\tbefore check-from\tafter late-after\tdays off the likely day\tdays wide\tlog score\t"
	line := func(at string, x snapshot.WindowScore) {
		share := func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) }
		of := func(n int) string { // without an egg there is no share
			if x.N == 0 {
				return ""
			}
			return fmt.Sprintf("%d: %s", n, share(float64(n)/float64(x.N)))
		}
		fmt.Fprintf(t, "%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\t\n", at, x.N, figure(x.Inside, share), of(x.Early), of(x.Late),
			figure(x.MeanDaysOff, digits("%.1f")), figure(x.MeanWidth, digits("%.0f")), figure(x.LogScore, digits("%.2f")))
	}
	fmt.Fprintln(t, "of the way\t"+figures)
	for _, x := range b.Ways {
		line(fmt.Sprintf("%.0f %%", 100*x.Way), x.WindowScore)
	}
	fmt.Fprintln(t, "after laying\t"+figures)
	for _, x := range b.Ages {
		line(fmt.Sprintf("%.0f days", x.AgeDays), x.WindowScore)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w, "A window is meant to hold 85 % of the hatches: 10 % come before check-from, 5 % after late-after.")
	return err
}

// digits formats a number.
func digits(format string) func(float64) string {
	return func(v float64) string { return fmt.Sprintf(format, v) }
}

// figure formats a figure; one that is not there is empty.
func figure(v *float64, format func(float64) string) string {
	if v == nil {
		return ""
	}
	return format(*v)
}
