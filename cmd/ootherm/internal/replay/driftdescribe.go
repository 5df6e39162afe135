package replay

import (
	"fmt"
	"io"
	"slices"
	"text/tabwriter"
	"time"

	"example.com/ootherm/alert/backtest"
)

// DescribeDriftBacktest writes the tables of both sides, for a person.
func DescribeDriftBacktest(w io.Writer, r DriftBacktest) error {
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, `%d heater failures and as many runaways were laid over each probe.
called   of those that came to the limit, before it was reached
lead     median share of the time from failure to limit; 0 for what was not called
false    calls in 30 days on the recording as it is
day 2 on  the same of the failures that begin after the first day, and of the calls after it
drift    what the station runs
line     a straight line through the last one to three hours, t-test on its slope
plain    the limit, 10 minutes later
rate     5 K an hour for 10 minutes
cycle    calls of the drift on the recording, and with a cycle of 1 and of 2 K laid over
in 80 %%  of the called, how many came to the limit within the interval that was told
off      by how much the time that was told was wrong, median
kind     of zone, as the configuration, or else the name of the probe or of the file, tells
every    the time between two readings

`, r.Failures)
	describeSides(t, "at the recording's own pace", r.Low, r.High)
	if x := r.Station; x != nil {
		fmt.Fprintln(t)
		describeSides(t, fmt.Sprintf("at the station's pace, a poll every %v", seconds(x.Every)), x.Low, x.High)
	}
	return t.Flush()
}

// seconds is a time of so many seconds.
func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// describeSides writes the tables of both ends at one pace.
func describeSides(t io.Writer, pace string, low, high backtest.Side) {
	for _, s := range []backtest.Side{low, high} {
		if s.High {
			fmt.Fprintf(t, "\nHigh end, %s: the limit is 1 K above the 99.8 %% quantile\n", pace)
		} else {
			fmt.Fprintf(t, "Low end, %s: the limit is 1 K below the 0.2 %% quantile\n", pace)
		}
		fmt.Fprintln(t, "\t\t\tlimit\t\t\tdrift\t\t\tday 2 on\t\t\t\tline\t\t\tplain\t\trate\t\tcycle\t\t\ttime left\t\t")
		fmt.Fprintln(t, "zone\tkind\tevery\tC\tdays\tfailures\tcalled\tlead\tfalse\tfailures\tcalled\tlead\tfalse\tcalled\tlead\tfalse\tlead\tfalse\tcalled\tfalse\t0\t1\t2 K\tin 80 %\toff, h\t")
		for _, row := range slices.Concat(s.Zones, s.Kinds, []backtest.Row{s.All}) {
			drift, line, plain, rate := row.By[backtest.Drift], row.By[backtest.Line], row.By[backtest.Plain], row.By[backtest.Rate]
			every := "-"
			if row.Every != nil {
				every = seconds(*row.Every).String()
			}
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%.1f\t%d\t", row.Zone, row.Kind, every, optional(row.LimitC, 1, "%.1f"), row.Days, row.Failures)
			score := func(x backtest.Score) {
				fmt.Fprintf(t, "%s\t%s\t%.2f\t", optional(x.Share, 100, "%.1f %%"), optional(x.Lead, 1, "%.2f"), x.In30Days)
			}
			score(drift)
			fmt.Fprintf(t, "%d\t", row.Later.Failures)
			score(row.Later.By[backtest.Drift])
			score(line)
			fmt.Fprintf(t, "%s\t%.2f\t", optional(plain.Lead, 1, "%.2f"), plain.In30Days)
			fmt.Fprintf(t, "%s\t%.2f\t%d\t", optional(rate.Share, 100, "%.1f %%"), rate.In30Days, drift.FalseCalls)
			for _, n := range row.Cycles {
				fmt.Fprintf(t, "%d\t", n)
			}
			fmt.Fprintf(t, "%s\t%s\t\n", optional(row.Within, 100, "%.0f %%"), optional(row.Off, 1, "%.1f"))
		}
	}
}

// optional formats a figure times a factor; a figure that is not known is "-".
func optional(v *float64, times float64, format string) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf(format, *v*times)
}
