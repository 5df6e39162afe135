package setup

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
)

// Probes that a hub publishes are asked for, slips included, also where no probe hangs at this
// machine. The password is in a file that only its owner may read, and no sender takes it.
func TestSetupOfAHub(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "egg.toml")
	var out strings.Builder
	err := Run(t.Context(), Options{Config: file, Places: bareMachine(dir), Out: &out, Now: benchtest.Noon, In: benchtest.Script(t,
		"c", "", "", "", "24", "1", "y", "incubator", "", "28", "leopard gecko", "n",
		"y", "", "http://h", "mqtt://127.0.0.1:1883", "keeper", "four warm eggs",
		"hub/+", "hub/far-shelf", "", "", "humidity", "", "", "room", "y",
		"hub/box", "-", "fahrenheit", "far-shelf", "-", "box", "inc", "n",
		"webhook", "http://127.0.0.1:1/x", "hub", "hook", "n", "",
		"", filepath.Join(dir, "data"), "n", "", "y", "n")})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	c, err := config.Load(file, probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range c.Probes {
		x := p.Topics
		got = append(got, fmt.Sprintf("%s %s %s %s %s|%s|%t %t %s", p.Name, p.Driver, x.URL, x.Topic, x.Temperature, x.Humidity, x.Percent, x.Fahrenheit, x.User+" "+filepath.Base(x.PasswordFile)))
	}
	want := "far-shelf mqtt mqtt://127.0.0.1:1883 hub/far-shelf temperature|humidity|true false keeper hub.password, " +
		"box mqtt mqtt://127.0.0.1:1883 hub/box ||false true keeper hub.password"
	if strings.Join(got, ", ") != want {
		t.Errorf("probes are\n%s, want\n%s", strings.Join(got, ", "), want)
	}
	if fmt.Sprint(c.Zones[0].Probes, c.Zones[1].Probes) != "[far-shelf] [box]" {
		t.Errorf("they hang in %v and %v", c.Zones[0].Probes, c.Zones[1].Probes)
	}
	secret := filepath.Join(dir, "hub.password")
	if text, err := os.ReadFile(secret); err != nil || string(text) != "four warm eggs\n" {
		t.Errorf("the password's file has %q, %v", text, err)
	}
	if info, err := os.Stat(secret); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the password's file: %v, %v", info, err)
	}
	if text, err := os.ReadFile(file); err != nil || strings.Contains(string(text), "four warm") || strings.Contains(out.String(), "four warm") {
		t.Error("the password is shown")
	}
	for _, says := range []string{"is not a broker's address", "has a wildcard in it", `"far-shelf" is another's name already`, `"hub" is another's name already`} {
		if !strings.Contains(out.String(), says) {
			t.Errorf("not shown: %q in\n%s", says, out.String())
		}
	}
}
