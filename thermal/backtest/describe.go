package backtest

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// Describe writes a table of two models' results: a line for each protocol and model,
// errors and widths in percent.
func Describe(w io.Writer, model string, a Result, other string, b Result) error {
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "knowing\tmodel\trows\tmedian error\tmean error\tinside the 80 % interval\tits mean width\t")
	for _, p := range Protocols() {
		for _, x := range []struct {
			model string
			of    Summary
		}{{model, a.Protocols[p]}, {other, b.Protocols[p]}} {
			fmt.Fprintf(t, "%s\t%s\t%d\t%.1f %%\t%.1f %%\t%.0f %%\t%.0f %%\t\n", p, x.model, x.of.N,
				100*x.of.MedianAPE, 100*x.of.MAPE, 100*x.of.Within80, 100*x.of.Width80)
		}
	}
	return t.Flush()
}
