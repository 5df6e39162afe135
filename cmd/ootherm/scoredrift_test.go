package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

type sides struct{ Low, High side }

type side struct {
	Zones, Kinds []row
	All          row
}

type row struct {
	Zone, Kind, Pace string
	Every            float64  `json:"pace_seconds"`
	LimitC           *float64 `json:"limit_c"`
	Failures         int
	By               map[string]struct {
		Called      int
		CalledRatio float64 `json:"called_ratio"`
	}
	Later struct {
		Failures int
		By       map[string]struct {
			CalledRatio *float64 `json:"called_ratio"`
		}
	} `json:"after_first_day"`
}

// The configuration tells the pace of the station, and of which kind of zone a probe is; no pace
// leaves the station's out.
func TestScoreDriftOfAStation(t *testing.T) {
	config := filepath.Join(t.TempDir(), "ootherm.toml")
	text := `
[station]
name  = "here"
every = "10m"
[[zone]]
name   = "rack"
kind   = "shelf"
probes = ["dining"]
`
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	args := []string{"--drift", "--failures", "3", "--json", "--config", config, "--column", "dining=dining_c", "--column", "bedroom=bedroom_c", testdata + "rooms/house-two-rooms-15min.csv"}
	for _, c := range []struct {
		more  []string
		every float64
	}{{nil, 600}, {[]string{"--pace", "20m"}, 1200}, {[]string{"--pace", "0"}, 0}} {
		out, err := ask(t, scoreCommand(), append(args, c.more...)...)
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			Low     side
			Station *struct {
				Every float64 `json:"pace_seconds"`
				Low   side
			} `json:"at_station_pace"`
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(err)
		}
		if z := got.Low.Zones; len(z) != 2 || z[0].Kind != "room" || z[1].Kind != "shelf" {
			t.Errorf("%v: %+v", c.more, z)
		}
		if x := got.Station; (x != nil) != (c.every > 0) || x != nil && (x.Every != c.every || x.Low.Zones[1].Every != c.every) {
			t.Errorf("%v: %s", c.more, out)
		}
	}
}

// The command reads recordings as they are, in words and as JSON.
func TestScoreDrift(t *testing.T) {
	t.Parallel()
	const rooms = testdata + "rooms/"
	office := slices.Collect(strings.Lines(string(must(t, rooms+"office-hourly-fahrenheit.csv"))))
	weeks := put(t, t.TempDir(), "office-hourly-fahrenheit.csv", strings.Join(office[:6*7*24], "")) // of ten months: enough to learn a day
	args := []string{"--drift", "--pace", "5m", "--fahrenheit", "--column", "office=value", "--column", "dining=dining_c",
		weeks, rooms + "house-two-rooms-15min.csv", rooms + "lizard-lab-incubator-5min.csv"}
	out, err := ask(t, scoreCommand(), append(args, "--failures", "2")...)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Low end", "High end", "office-hourly-fahrenheit office", "house-two-rooms-15min dining", "lizard-lab-incubator-5min temperature", "a straight line through", "the limit, 10 minutes later", " all ",
		"Low end, at the recording's own pace", "High end, at the station's pace, a poll every 5m0s", "all of kind incubator", "day 2 on"} {
		if !strings.Contains(out, want) {
			t.Errorf("the table lacks %q:\n%s", want, out)
		}
	}
	if strings.Contains(out, "outdoor") {
		t.Errorf("a column was judged that was not asked for:\n%s", out)
	}
	if out, err = ask(t, scoreCommand(), append(args, "--failures", "7", "--json")...); err != nil {
		t.Fatal(err)
	}
	var got struct {
		sides
		Station struct{ sides } `json:"at_station_pace"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	all := got.Low.All
	if len(got.Low.Zones) != 3 || len(got.High.Zones) != 3 || all.Zone != "all" || all.LimitC != nil || all.Failures < 20 || len(all.By) != 4 ||
		all.Later.Failures >= all.Failures || all.Later.Failures == 0 || len(all.Later.By) != 4 || all.Later.By["drift"].CalledRatio == nil {
		t.Errorf("JSON: %s", out)
	}
	for _, pace := range []struct {
		name  string
		sides sides
	}{{"recording", got.sides}, {"station", got.Station.sides}} {
		for _, side := range []side{pace.sides.Low, pace.sides.High} {
			var kinds []string
			for _, z := range slices.Concat(side.Zones, side.Kinds) {
				kinds = append(kinds, z.Kind)
				if z.Pace != pace.name || pace.name == "station" && z.Every != 300 {
					t.Errorf("%s: a row of pace %q, every %g s", pace.name, z.Pace, z.Every)
				}
			}
			if want := []string{"room", "room", "incubator", "room", "incubator"}; !slices.Equal(kinds, want) {
				t.Errorf("%s: rows of the kinds %q, want %q", pace.name, kinds, want)
			}
		}
	}
	if d := all.By["drift"]; d.CalledRatio*float64(all.Failures) < float64(d.Called)-1e-6 || d.Called == 0 {
		t.Errorf("%d of %d called is no ratio of %g", d.Called, all.Failures, d.CalledRatio)
	}
}

func TestScoreDriftSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		args  []string
		want  string
		usage bool
	}{
		{[]string{"--drift"}, "needs a recording", true},
		{[]string{"--drift", "--book", "x.csv"}, "takes no --book", true},
		{[]string{"--drift", "--pace", "1ms", "x.csv"}, "--pace: 1ms", true},
		{[]string{"--drift", "--config", "none.toml", "x.csv"}, "none.toml", false},
		{[]string{"--drift", "--failures", "0", "x.csv"}, "--failures: 0", true},
		{[]string{"--drift", "--time-zone", "Nowhere", "x.csv"}, "--time-zone", true},
		{[]string{"--drift", "none.csv"}, "none.csv", false},
		{[]string{"--drift", testdata + "rooms/office-failure-windows.csv"}, "--column PROBE=COLUMN", false},
		{[]string{"x.csv"}, "x.csv", false},
	} {
		_, err := ask(t, scoreCommand(), c.args...)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: %v, want %q", c.args, err, c.want)
		}
		if usererr.IsUsage(err) != c.usage && c.usage {
			t.Errorf("%v: %v is no fault of usage", c.args, err)
		}
	}
}
