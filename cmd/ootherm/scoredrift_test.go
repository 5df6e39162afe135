package main

import (
	"encoding/json"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// The command reads recordings as they are, in words and as JSON.
func TestScoreDrift(t *testing.T) {
	const rooms = testdata + "rooms/"
	args := []string{"--drift", "--failures", "10", "--fahrenheit", "--column", "office=value", "--column", "dining=dining_c",
		rooms + "office-hourly-fahrenheit.csv", rooms + "house-two-rooms-15min.csv", rooms + "lizard-lab-incubator-5min.csv"}
	out, err := ask(t, scoreCommand(), args...)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Low end", "High end", "office-hourly-fahrenheit office", "house-two-rooms-15min dining", "lizard-lab-incubator-5min temperature", "a straight line through", "the limit, 10 minutes later", " all "} {
		if !strings.Contains(out, want) {
			t.Errorf("the table lacks %q:\n%s", want, out)
		}
	}
	if strings.Contains(out, "outdoor") {
		t.Errorf("a column was judged that was not asked for:\n%s", out)
	}
	if out, err = ask(t, scoreCommand(), append(args, "--json")...); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Low, High struct {
			Zones []map[string]any
			All   struct {
				Zone     string
				LimitC   *float64 `json:"limit_c"`
				Failures int
				By       map[string]struct {
					Called      int
					CalledRatio float64 `json:"called_ratio"`
				}
			}
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	all := got.Low.All
	if len(got.Low.Zones) != 3 || len(got.High.Zones) != 3 || all.Zone != "all" || all.LimitC != nil || all.Failures < 20 || len(all.By) != 4 {
		t.Errorf("JSON: %s", out)
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
