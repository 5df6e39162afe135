//go:build tools

package metrics

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

const deployed = "../../../../deploy/"

// testRules runs promtool over tests in YAML, with the rules of the package.
func testRules(t *testing.T, tests string) (output string, ok bool) {
	t.Helper()
	rules, err := filepath.Abs(deployed + "prometheus-rules.yml")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "test.yml")
	if err := os.WriteFile(file, []byte(fmt.Sprintf("rule_files: [%s]\nevaluation_interval: 15s\ntests:\n%s", rules, tests)), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("promtool", "test", "rules", file).CombinedOutput()
	if err != nil && len(out) == 0 {
		t.Fatalf("promtool does not run: %v; install the package prometheus", err)
	}
	return string(out), err == nil
}

// Of twenty stations one is lost and one stands still, both at five minutes. Within two
// minutes each is called by its name, and no other is called.
func TestALostAndAFrozenStationOfTwenty(t *testing.T) {
	var b strings.Builder
	b.WriteString("  - interval: 15s\n    input_series:\n")
	add := func(series, values string) {
		fmt.Fprintf(&b, "      - {series: '%s', values: '%s'}\n", series, values)
	}
	for i := range 20 {
		at := fmt.Sprintf(`{job="ootherm",instance="pi%d:8080"`, i)
		up, info, poll := "1x60", "1x60", "0+15x60"
		switch i {
		case 7:
			up, info, poll = "1x20 0x39", "1x20 stale _x38", "0+15x20 stale _x38"
		case 12:
			poll = "0+15x20 300x39"
		}
		add("up"+at+"}", up)
		add("ootherm_station_info"+at+fmt.Sprintf(`,station="room %d"}`, i), info)
		add("ootherm_last_poll_timestamp_seconds"+at+"}", poll)
		add("ootherm_poll_interval_seconds"+at+"}", strings.ReplaceAll(info, "1x", "10x"))
		add("ootherm_probe_temperature_celsius"+at+`,probe="p",zone="z"}`, strings.ReplaceAll(info, "1x", "23x"))
	}
	b.WriteString(`    alert_rule_test:
      - {eval_time: 5m, alertname: StationGone, exp_alerts: []}
      - {eval_time: 5m, alertname: StationFrozen, exp_alerts: []}
`)
	for _, at := range []string{"7m", "14m"} {
		fmt.Fprintf(&b, `      - eval_time: %s
        alertname: StationGone
        exp_alerts:
          - exp_labels: {priority: critical, job: ootherm, instance: 'pi7:8080', station: room 7}
            exp_annotations:
              summary: Station room 7 at pi7:8080 does not answer
              description: Nobody watches its eggs. Look at the Pi, its power and its network.
      - {eval_time: %s, alertname: NoProbeRead, exp_alerts: []}
`, at, at)
	}
	b.WriteString(`      - eval_time: 7m
        alertname: StationFrozen
        exp_alerts:
          - exp_labels: {priority: critical, job: ootherm, instance: 'pi12:8080', station: room 12}
            exp_annotations:
              summary: Station room 12 at pi12:8080 has not polled its probes for 2m 0s
              description: It answers and watches nothing. Restart its service, and read its log.
`)
	if out, ok := testRules(t, b.String()); !ok {
		t.Error(out)
	}
}

// series turns a scrape into the series of a test, as one station of a fleet.
func series(t *testing.T, text string) string {
	t.Helper()
	var b strings.Builder
	line := regexp.MustCompile(`^(\w+)(?:\{(.*)\})? (\S+)$`)
	for l := range strings.Lines(text + "up 1\n") {
		if strings.HasPrefix(l, "#") {
			continue
		}
		m := line.FindStringSubmatch(strings.TrimSpace(l))
		if m == nil {
			t.Fatalf("no series: %s", l)
		}
		labels := `job="ootherm",instance="pi:8080"`
		if m[2] != "" {
			labels += "," + m[2]
		}
		fmt.Fprintf(&b, "      - {series: '%s{%s}', values: '%sx300'}\n", m[1], labels, m[3])
	}
	return b.String()
}

// Each query of the dashboard gives data of a station, and the names to choose from are there.
func TestDashboard(t *testing.T) {
	text, err := os.ReadFile(deployed + "dashboard.json")
	if err != nil {
		t.Fatal(err)
	}
	var d struct {
		Panels []struct {
			Title   string
			Targets []struct{ Expr string }
		}
		Templating struct {
			List []struct{ Name, Type string }
		}
	}
	if err := json.Unmarshal(text, &d); err != nil {
		t.Fatal(err)
	}
	if l := d.Templating.List; len(l) != 2 || l[1].Name != "station" {
		t.Errorf("variables %+v, want a data source and a station", l)
	}
	n := station()
	n.Station = snapshot.Station{Name: "egg room", Version: "1.2.3", Clock: "synchronised"}
	queries := []string{`count by (station) (ootherm:station_info:last)`}
	for _, p := range d.Panels {
		if len(p.Targets) == 0 {
			t.Errorf("%s asks nothing", p.Title)
		}
		for _, q := range p.Targets {
			if !strings.Contains(q.Expr, `{station=~"$station"}`) {
				t.Errorf("%s does not follow the station that is chosen: %s", p.Title, q.Expr)
			}
			queries = append(queries, strings.ReplaceAll(q.Expr, "$station", "egg room"))
		}
	}
	var b strings.Builder
	b.WriteString("  - interval: 15s\n    input_series:\n" + series(t, scrape(t, n)) + "    promql_expr_test:\n")
	for _, q := range queries {
		fmt.Fprintf(&b, "      - {expr: 'count(%s) > bool 0', eval_time: 70m, exp_samples: [{labels: '{}', value: 1}]}\n", q)
	}
	if out, ok := testRules(t, b.String()); !ok || len(queries) < 15 {
		t.Errorf("%d queries: %s", len(queries), out)
	}
}
