package backtest

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// Describe writes a table of two models' results: a line for each protocol and model,
// errors and widths in percent, and the mean log score.
func Describe(w io.Writer, model string, a Result, other string, b Result) error {
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "knowing\tmodel\trows\tmedian error\tmean error\tinside the 80 % interval\tits mean width\tlog score\t")
	for _, p := range Protocols() {
		for _, x := range []struct {
			model string
			of    Summary
		}{{model, a.Protocols[p]}, {other, b.Protocols[p]}} {
			fmt.Fprintf(t, "%s\t%s\t%d\t%.1f %%\t%.1f %%\t%.0f %%\t%.0f %%\t%.2f\t\n", p, x.model, x.of.N,
				100*x.of.MedianAPE, 100*x.of.MAPE, 100*x.of.Within80, 100*x.of.Width80, x.of.LogScore)
		}
	}
	return t.Flush()
}

// DescribeClades writes a table of one result by clade: a line for each clade and
// protocol. The last two columns are the shares that hatched before and after the 80 %
// interval, a tenth each where the spread is right.
func DescribeClades(w io.Writer, r Result) error {
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "clade\tknowing\trows\tmedian error\tinside the 80 % interval\tits mean width\tlog score\tearlier\tlater\t")
	for _, clade := range Clades() {
		for _, p := range Protocols() {
			if s := r.Clades[clade][p]; s.N > 0 {
				fmt.Fprintf(t, "%s\t%s\t%d\t%.1f %%\t%.0f %%\t%.0f %%\t%.2f\t%.0f %%\t%.0f %%\t\n", clade, p, s.N,
					100*s.MedianAPE, 100*s.Within80, 100*s.Width80, s.LogScore, 100*s.Early10, 100*s.Late10)
			}
		}
	}
	return t.Flush()
}
