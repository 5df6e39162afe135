package setup

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/inventorytest"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/sensor/inventory"
)

// Limits that the breeder did not choose are said, with what the probe reads. Other limits
// are written; Enter keeps those that were said.
func TestLimitsAreSaid(t *testing.T) {
	const said = "No temperature given for room. Alarms come outside 80.6-84.2 °F (usual for leopard gecko). The probe air reads 75.4 °F, so an alarm will come.\n"
	for name, c := range map[string]struct {
		setPoint string
		limits   []string
		want     string // of the file, Celsius
		shows    []string
		hides    string
	}{
		"kept":          {"", []string{""}, "27.0 29.0", []string{said, "warns outside 80.6-84.2 °F; probes: air"}, "is no lower and upper"},
		"changed":       {"", []string{"warm", "84-80", "85-90", "72-78 F"}, "22.2 25.6", []string{said, `"warm" is no lower and upper limit`, `"84-80" is no lower`, "Alarms come outside 85.0-90.0 °F. The probe air reads", "Alarms come outside 72.0-78.0 °F.\n"}, "none, really"},
		"a temperature": {"82", nil, "27.0 29.0", []string{"In room: Alarms come outside 80.6-84.2 °F (usual for leopard gecko). The probe air reads 75.4 °F, so an alarm will come.\n", "held at 82.0 °F"}, "Other limits"},
	} {
		root := t.TempDir()
		benchtest.Lay(t, root, map[string]string{"hwmon/hwmon1/name": "sht4x\n", "hwmon/hwmon1/temp1_input": "24125\n"})
		file := filepath.Join(root, "egg.toml")
		answers := append([]string{"f", "", "room", "", c.setPoint, "leopard gecko", "", "air", ""}, c.limits...)
		var out strings.Builder
		err := Run(t.Context(), Options{Config: file, Out: &out, Now: time.Now,
			Places: inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: filepath.Join(root, "hwmon"), Wait: inventorytest.NoWait},
			In:     benchtest.Script(t, append(answers, "", "", filepath.Join(root, "data"), "n", "Olive", "", "", "")...)})
		if err != nil {
			t.Fatalf("%s: %v after\n%s", name, err, out.String())
		}
		for _, want := range append(c.shows, "Your answers:\n  station    egg room, in fahrenheit, data in "+root, "  alarms by  the page alone\n  heartbeat  none\n", "first eggs Olive, a leopard gecko\nWrite ") {
			if !strings.Contains(out.String(), want) {
				t.Errorf("%s: not shown: %q in\n%s", name, want, out.String())
			}
		}
		if strings.Contains(out.String(), c.hides) {
			t.Errorf("%s: shown: %q in\n%s", name, c.hides, out.String())
		}
		cfg, err := config.Load(file, probeconfig.Drivers())
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprintf("%.1f %.1f", *cfg.Zones[0].Wanted.Low, *cfg.Zones[0].Wanted.High); got != c.want {
			t.Errorf("%s: wanted is %s, want %s", name, got, c.want)
		}
	}
}
