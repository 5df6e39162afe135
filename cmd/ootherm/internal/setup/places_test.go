package setup

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/inventorytest"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/sensor/inventory"
)

// bareMachine is a machine without a bus.
func bareMachine(root string) inventory.Places {
	return inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
}

// A room and an incubator in one go: each has its own temperature, species and probes. One
// where no probe hangs is kept as a comment.
func TestSetupOfSeveralPlaces(t *testing.T) {
	places, _ := inventorytest.Board(t)
	dir := t.TempDir()
	file := filepath.Join(dir, "egg.toml")
	var out strings.Builder
	err := Run(t.Context(), Options{Config: file, Places: places, Out: &out, Now: benchtest.Noon,
		In: benchtest.Script(t, "f", "", "", "", "seventy", "74", "crested gecko", "y",
			"room", "Incubator", "", "82", "leopard gecko", "y", // a name that is taken
			"attic", "shelf", "", "", "",
			"air", "", "dummy", "inCUB", "-", "-", "-", "-", "",
			"", "", filepath.Join(dir, "data"), "", "", "y")})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	c, err := config.Load(file, probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, z := range c.Zones {
		got = append(got, fmt.Sprintf("%s %s %.1f %v", z.Name, z.Kind, *z.SetPoint, z.Probes))
	}
	if want := "room room 23.3 [air], Incubator incubator 27.8 [dummy]"; strings.Join(got, ", ") != want {
		t.Errorf("zones %q, want %q", got, want)
	}
	text, err := os.ReadFile(file)
	if err != nil || !strings.Contains(string(text), "# name   = \"attic\"\n# kind   = \"shelf\"") || !strings.Contains(string(text), "usual for leopard gecko") {
		t.Errorf("%v, written is\n%s", err, text)
	}
	for _, want := range []string{`"room" is another's name already`, "No probe hangs in attic", `"seventy" is not a number.`, "it hangs in (room, Incubator, attic)"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
}

// Setup ends with the first dam, box and eggs in the book; what the book would not take is
// asked again at once. Over a book that is there nothing is asked.
func TestSetupNotesTheFirstEggs(t *testing.T) {
	for name, c := range map[string]struct {
		answers []string
		want    string // dams, boxes, clutches
		shows   string
	}{
		"all":        {[]string{"..", "Olive", "leopard gecko", "B1", "some", "2", "x", "3"}, "[Olive leopard gecko] [B1 room] [C1 2 72h0m0s]", "Noted in the book: Olive, a leopard gecko, box B1, 2 eggs."},
		"no eggs":    {[]string{"Olive", "", "B1", ""}, "[Olive crested gecko] [B1 room] []", "Noted in the book: Olive, a crested gecko, box B1."},
		"a dam":      {[]string{"Olive", "", ""}, "[Olive crested gecko] [] []", "Noted in the book: Olive, a crested gecko."},
		"none of it": {[]string{""}, "[] [] []", "ootherm book note dam --config "},
	} {
		dir := t.TempDir()
		file, data := filepath.Join(dir, "egg.toml"), filepath.Join(dir, "data")
		answers := append([]string{"f", "", "", "", "74", "crested gecko", "", "", "y", "", "", data, ""}, c.answers...)
		var out strings.Builder
		o := Options{Config: file, Places: bareMachine(dir), Out: &out, Now: time.Now, In: benchtest.Script(t, append(answers, "y")...)}
		if err := Run(t.Context(), o); err != nil {
			t.Fatalf("%s: %v after\n%s", name, err, out.String())
		}
		b, err := client.BookOf(t.Context(), file, daemon.Build{})
		if err != nil {
			t.Fatal(err)
		}
		var dams, boxes, clutches []string
		for _, d := range b.Dams() {
			dams = append(dams, d.Name+" "+d.Profile)
		}
		for _, x := range b.Boxes() {
			boxes = append(boxes, x.ID+" "+x.Zone)
		}
		for _, x := range b.Clutches() {
			clutches = append(clutches, fmt.Sprintf("%s %d %v", x.ID, len(x.Eggs), x.Laid.By.Sub(x.Laid.After)))
			if x.Eggs[0].Box != "B1" {
				t.Errorf("%s: the first egg is in %q", name, x.Eggs[0].Box)
			}
		}
		if got := fmt.Sprint(dams, boxes, clutches); got != c.want || !strings.Contains(out.String(), c.shows) {
			t.Errorf("%s: the book has %s, want %s; shown\n%s", name, got, c.want, out.String())
		}
		if name != "all" {
			continue
		}
		for _, want := range []string{`Not accepted: ".." is no name`, `"some" is no number of eggs`, `"x" is no number of days`} {
			if !strings.Contains(out.String(), want) {
				t.Errorf("not shown: %q in\n%s", want, out.String())
			}
		}
		out.Reset()
		o.Config, o.In = file+"2", benchtest.Script(t, "f", "", "", "", "74", "", "", "", "y", "", "", data, "", "y")
		if err := Run(t.Context(), o); err != nil || strings.Contains(out.String(), "The first dam") {
			t.Errorf("over a book that is there: %v after\n%s", err, out.String())
		}
	}
}

// Ctrl-C is told in the words of the command.
func TestSetupStopped(t *testing.T) {
	dir := t.TempDir()
	ctx, stop := context.WithCancel(t.Context())
	p := benchtest.Script(t, "f")
	p.Lines = append(p.Lines, benchtest.Step{Line: "", Do: stop})
	var out strings.Builder
	err := Run(ctx, Options{Config: filepath.Join(dir, "egg.toml"), Places: bareMachine(dir), Out: &out, Now: benchtest.Noon, In: p})
	if err == nil || err.Error() != "setup stopped; nothing was changed" {
		t.Errorf("%v after\n%s", err, out.String())
	}
}

// Who ran setup with sudo is told how to go without it.
func TestGroupHint(t *testing.T) {
	for _, c := range []struct{ sudo, file, want string }{
		{"ann", configpath.Packaged, "To use ootherm without sudo, from your next login on: sudo adduser ann ootherm"},
		{"ann", "/home/ann/egg.toml", ""}, {"", configpath.Packaged, ""}, {"root", configpath.Packaged, ""},
	} {
		if got := groupHint(c.sudo, c.file); got != c.want {
			t.Errorf("%q, %s: %q, want %q", c.sudo, c.file, got, c.want)
		}
	}
}
