package replay_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/backtest"
	"example.com/ootherm/cmd/ootherm/internal/replay"
)

const rooms = "../../../../testdata/rooms/"

// backtestRooms lays failures over the recorded rooms, as
//
//	ootherm score --drift --fahrenheit --column dining=dining_c --column bedroom=bedroom_c --column office=value FILE...
func backtestRooms(t *testing.T) replay.DriftBacktest {
	t.Helper()
	o := replay.DriftBacktestOptions{
		Columns:    []string{"dining=dining_c", "bedroom=bedroom_c", "office=value"},
		Fahrenheit: true, Location: time.UTC, Failures: 60, Seed: 1,
	}
	if os.Getenv("OOTHERM_FULL") == "1" {
		o.Failures = 600
	}
	for _, f := range []string{"four-probes-30s", "house-irregular-10min", "house-two-rooms-15min", "lizard-lab-incubator-5min", "office-hourly-fahrenheit"} {
		o.Files = append(o.Files, rooms+f+".csv")
	}
	r, err := replay.BacktestDrift(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestDriftAlarm prints the table over the recorded rooms and checks the promises of the
// drift alarm, on both sides. It calls nine of ten failures, with half of the time until
// the limit left, and at most one false call in 30 days. It calls more failures than a
// straight line does. A thermostat's cycle laid over a room adds no call. The limit is
// passed within the forecast interval as often as the interval promises. The incubator's
// failures are called as often once its first day is known.
func TestDriftAlarm(t *testing.T) {
	r := backtestRooms(t)
	var table strings.Builder
	if err := replay.DescribeDriftBacktest(&table, r); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d failures over each probe\n%s", r.Failures, &table)
	for _, s := range []backtest.Side{r.Low, r.High} {
		if len(s.Zones) != 12 {
			t.Errorf("high %v: %d probes, want 12", s.High, len(s.Zones))
		}
		drift, line := s.All.By[backtest.Drift], s.All.By[backtest.Line]
		switch {
		case s.All.Failures < 600:
			t.Fatalf("high %v: %d failures came to the limit, want 600", s.High, s.All.Failures)
		case !(*drift.Share >= 0.9 && *drift.Lead >= 0.5 && drift.In30Days <= 1):
			t.Errorf("high %v: %.3f called, lead %.2f, %.2f false in 30 days", s.High, *drift.Share, *drift.Lead, drift.In30Days)
		case !(*drift.Share > *line.Share+0.05 && *drift.Lead > *line.Lead):
			t.Errorf("high %v: %.3f called with a lead of %.2f, a straight line %.3f and %.2f", s.High, *drift.Share, *drift.Lead, *line.Share, *line.Lead)
		case !(*s.All.Within >= 0.72 && *s.All.Within <= 0.9):
			t.Errorf("high %v: %.2f passed the limit within the interval of 80 %%", s.High, *s.All.Within)
		}
		if later := incubatorOf(t, s); !(later.Share != nil && *later.Share >= 0.9) {
			t.Errorf("high %v: %+v of the incubator after its first day", s.High, later)
		}
		for _, z := range s.Zones {
			for i, n := range z.Cycles {
				if alone := z.By[backtest.Drift].FalseCalls; n > alone {
					t.Errorf("high %v: %s: %d calls with a cycle of %g K laid over, %d without", s.High, z.Zone, n, backtest.Swings()[i], alone)
				}
			}
			if plain := z.By[backtest.Plain]; plain.Called != 0 || plain.Lead == nil || *plain.Lead >= 0 {
				t.Errorf("high %v: %s: the plain limit %+v called before the limit was reached", s.High, z.Zone, plain)
			}
			if fast := z.By[backtest.Rate]; fast.FalseCalls > 0 && !strings.Contains(z.Zone, "incubator") { // that is cooled by 5 K each night
				t.Errorf("high %v: %s: the alarm of a rate of change called %d times", s.High, z.Zone, fast.FalseCalls)
			}
		}
	}
}

// incubatorOf is the drift's score of the incubators after their first day.
func incubatorOf(t *testing.T, s backtest.Side) backtest.Score {
	t.Helper()
	for _, k := range s.Kinds {
		if k.Kind == backtest.Incubator {
			if k.Later.Failures < 15 || k.Later.Failures >= k.Failures {
				t.Errorf("high %v: %d of %d failures after the first day", s.High, k.Later.Failures, k.Failures)
			}
			return k.Later.By[backtest.Drift]
		}
	}
	t.Fatal("no row of incubators")
	return backtest.Score{}
}

// The backtest reads long and wide recordings, and refuses the others.
func TestBacktestReadsLongAndWideFiles(t *testing.T) {
	var long, wide strings.Builder
	long.WriteString("time,probe,temperature_f,relative_humidity\n")
	wide.WriteString("timestamp,shelf_c,door_c,note\n")
	for i := range 200 {
		at := benchBegan.Add(time.Duration(i) * 10 * time.Minute).Format(time.RFC3339)
		long.WriteString(at + ",b,73.4,55\n" + at + ",a,75.2,55\n")
		wide.WriteString(at + ",23,24,x\n")
	}
	ask := func(o replay.DriftBacktestOptions) (replay.DriftBacktest, error) {
		o.Failures, o.Seed, o.Location = 5, 1, time.UTC
		return replay.BacktestDrift(t.Context(), o)
	}
	long2, wide2 := write(t, "long.csv", long.String()), write(t, "wide.csv", wide.String())
	r, err := ask(replay.DriftBacktestOptions{Files: []string{long2, wide2}})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct {
		zone  string
		limit float64
	}{{"long a", 23}, {"long b", 22}, {"wide door", 23}, {"wide shelf", 22}} {
		if z := r.Low.Zones[i]; z.Zone != want.zone || z.LimitC == nil || *z.LimitC < want.limit-1e-9 || *z.LimitC > want.limit+1e-9 {
			t.Errorf("%s with a limit of %v, want %s and %g", z.Zone, *z.LimitC, want.zone, want.limit)
		}
	}
	if r, err = ask(replay.DriftBacktestOptions{Files: []string{wide2}, Columns: []string{"s=shelf_c"}, Fahrenheit: true}); err != nil || len(r.Low.Zones) != 1 || *r.Low.Zones[0].LimitC != 22 {
		t.Errorf("one column that says Celsius: %+v, %v", r.Low.Zones, err)
	}
	bad := write(t, "bad.csv", wide.String()+"2026-13-01,1,1,x\n")
	if _, err := ask(replay.DriftBacktestOptions{Files: []string{bad}}); err == nil || !strings.Contains(err.Error(), "bad.csv:202") {
		t.Errorf("a bad time: %v, want its line", err)
	}
	if r, err := ask(replay.DriftBacktestOptions{Files: []string{bad}, KeepGoing: true}); err != nil || r.BadRows != 1 {
		t.Errorf("going on: %d bad rows, %v", r.BadRows, err)
	}
	for name, c := range map[string]struct{ text, want string }{
		"no temperatures": {"time,value\n2026-01-01,1\n", "--column"},
		"no rows":         {"time,a_c\n", "no temperatures"},
		"few rows":        {"time,a_c\n2026-01-01T00:00:00Z,1\n", "100 are needed"},
		"nothing":         {"", "the file is empty"},
	} {
		if _, err := ask(replay.DriftBacktestOptions{Files: []string{write(t, "x.csv", c.text)}}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	if _, err := ask(replay.DriftBacktestOptions{Files: []string{filepath.Join(t.TempDir(), "none.csv")}}); err == nil {
		t.Error("a file that is not there")
	}
}
