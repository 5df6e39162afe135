package setup

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/inventorytest"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor/inventory"
)

// mailServer takes one message on a port of this machine.
func mailServer(t *testing.T) (address string, letter <-chan string) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	got := make(chan string, 1)
	go func() {
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		fmt.Fprint(c, "220 here\r\n")
		var text strings.Builder
		in, data := bufio.NewReader(c), false
		for {
			line, err := in.ReadString('\n')
			if err != nil {
				return
			}
			switch line = strings.TrimRight(line, "\r\n"); {
			case data && line == ".":
				data = false
				got <- text.String()
				fmt.Fprint(c, "250 taken\r\n")
			case data:
				text.WriteString(line + "\n")
			case strings.HasPrefix(line, "DATA"):
				data = true
				fmt.Fprint(c, "354 go on\r\n")
			case strings.HasPrefix(line, "QUIT"):
				fmt.Fprint(c, "221 bye\r\n")
				return
			default:
				fmt.Fprint(c, "250 yes\r\n")
			}
		}
	}()
	return l.Addr().String(), got
}

// The answer < goes back a question, over the scan for probes too. Nothing of the answers that
// were taken back is written.
func TestSetupGoesBack(t *testing.T) {
	places, _ := inventorytest.Board(t)
	file := filepath.Join(t.TempDir(), "ootherm.toml")
	data := filepath.Join(t.TempDir(), "data")
	var out strings.Builder
	err := Run(t.Context(), Options{
		Config: file, Places: places, Out: &out, Now: benchtest.Noon,
		In: benchtest.Script(t, "f", "attic", "<", "egg room", "", "<", "cupboard", "room", "74", "crested gecko", "n",
			"air", "<", "<", "y", "warm shelf", "shelf", "<", "<", "<", "n", "upper", "-", "-", "-", "-", "-",
			"", "", "", data, "", "", "y"),
	})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, taken := range []string{"attic", "warm shelf", `"air"`} {
		if strings.Contains(string(text), taken) {
			t.Errorf("%s was taken back and is written:\n%s", taken, text)
		}
	}
	for _, given := range []string{"egg room", "cupboard", "upper"} {
		if !strings.Contains(string(text), `"`+given+`"`) {
			t.Errorf("%s is not written:\n%s", given, text)
		}
	}
}

// A breeder's answers, slips included, give a configuration that check accepts. It holds
// the probes that answered, and a test message goes out.
func TestSetupWritesWhatWasAnswered(t *testing.T) {
	places, _ := inventorytest.Board(t)
	address, letter := mailServer(t)
	file := filepath.Join(t.TempDir(), "etc", "egg.toml")
	data := filepath.Join(t.TempDir(), "data")
	var out strings.Builder
	err := Run(t.Context(), Options{
		Config: file, Places: places, Out: &out, Now: benchtest.Noon,
		In: benchtest.Script(t, "kelvin", "f", `the "egg" room`, "", "inc", "23", "74", "basilisk", "crested gecko", "",
			"air", "air", "upper", "dummy-box", "-", "-", "-", "", // six probes answer, one name is taken at first
			"pigeon", "email", address, "keeper@example.org", "mail", "", "", "beat", "https://beat.example.org/x", data, "", "", "y", "y"),
	})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	c, err := config.Load(file, probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	if !c.Station.Fahrenheit || c.Station.Name != `the "egg" room` || c.Station.Data != data || c.Station.Heartbeat == nil || c.Station.Heartbeat.URL != "https://beat.example.org/x" {
		t.Errorf("station: %+v", c.Station)
	}
	z := c.Zones[0]
	if z.Name != "room" || z.Kind != "incubator" || fmt.Sprintf("%.2f", *z.SetPoint) != "23.33" || fmt.Sprint(z.Probes) != "[air upper dummy-box]" || z.Wanted == nil {
		t.Errorf("zone: %+v", z)
	}
	if len(c.Probes) != 3 || c.Probes[2].Driver != "ds18b20" || c.Probes[2].Address != "28-0416a2795aff" {
		t.Errorf("probes: %+v", c.Probes)
	}
	if got := <-letter; !strings.Contains(got, "keeper@example.org") || !strings.Contains(got, "Nothing is wrong") {
		t.Errorf("the letter:\n%s", got)
	}
	for _, want := range []string{`"kelvin" is none of these`, `"23" is no set point between 50.0 °F and 104.0 °F`, `"basilisk" is none of these`, `"air" is another's name already`, "is in order", `"pigeon" is none of these`, "Not accepted: heartbeat", "mail took the test message", "at http://127.0.0.1:8080, on this machine"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(text), "#"); n < 8 {
		t.Errorf("%d comments in\n%s", n, text)
	}
}

// Enter at every question gives a configuration too. Without a probe an invented one is
// offered.
func TestSetupOfABareMachine(t *testing.T) {
	root := t.TempDir()
	file := filepath.Join(root, "egg.toml")
	bare := inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
	var out strings.Builder
	enter := []string{"c", "", "", "", "23.3", "1", "", ""}
	if err := Run(t.Context(), Options{Config: file, Places: bare, data: filepath.Join(root, "data"), Out: &out, Now: benchtest.Noon, In: benchtest.Script(t, append(enter, "n")...)}); err == nil || !strings.Contains(err.Error(), "nothing was written") {
		t.Errorf("without a probe: %v", err)
	}
	if !strings.Contains(out.String(), "There is no 1-Wire bus") {
		t.Errorf("shown:\n%s", out.String())
	}
	if _, err := os.Stat(file); err == nil {
		t.Error("a file was written")
	}
	if err := Run(t.Context(), Options{Config: file, Places: bare, data: filepath.Join(root, "data"), Out: &out, Now: benchtest.Noon, In: benchtest.Script(t, append(enter, "y", "", "", "", "", "", "y")...)}); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	if c, err := config.Load(file, probeconfig.Drivers()); err != nil || len(c.Senders) != 0 || c.Probes[0].Driver != "simulated" {
		t.Errorf("%+v, %v", c, err)
	}
}

// Enter at the last question keeps the answers, and a refusal of it is asked about once more.
func TestLastQuestionOfSetup(t *testing.T) {
	root := t.TempDir()
	bare := inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
	for name, c := range map[string]struct {
		last    []string
		written bool
	}{
		"enter": {[]string{""}, true}, "refused by mistake": {[]string{"n", "n"}, true}, "refused": {[]string{"n", "y"}, false},
	} {
		file := filepath.Join(root, name+".toml")
		var out strings.Builder
		answers := append([]string{"c", "", "", "", "23.3", "1", "", "", "y", "", "", "", "", ""}, c.last...)
		err := Run(t.Context(), Options{Config: file, Places: bare, data: filepath.Join(root, "data"), Out: &out, Now: benchtest.Noon, In: benchtest.Script(t, answers...)})
		if (err == nil) != c.written {
			t.Errorf("%s: %v after\n%s", name, err, out.String())
		}
		if _, err := os.Stat(file); (err == nil) != c.written {
			t.Errorf("%s: the file: %v", name, err)
		}
	}
}

// Every built-in species gives a configuration, in either unit and with a thermostat far
// outside what is usual for it.
func TestSetupOfEverySpecies(t *testing.T) {
	root := t.TempDir()
	bare := inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
	for n := 1; ; n++ {
		ended := false
		for _, x := range [][2]string{{"c", "15"}, {"f", "100"}, {"f", ""}} {
			file := filepath.Join(root, fmt.Sprint(n, x[0], x[1], ".toml"))
			var out strings.Builder
			err := Run(t.Context(), Options{Config: file, Places: bare, data: filepath.Join(root, "data"), Out: &out, Now: benchtest.Noon,
				In: benchtest.Script(t, x[0], "", "", "", x[1], fmt.Sprint(n), "", "", "y", "", "", "", "", "", "y")})
			if ended = strings.Contains(out.String(), fmt.Sprintf("%q is none of these. Another species", fmt.Sprint(n))); ended {
				break
			}
			if err != nil {
				t.Errorf("species %d, %v: %v", n, x, err)
			}
		}
		if ended {
			if n < 5 {
				t.Errorf("%d species are built in", n-1)
			}
			return
		}
	}
}

// Setup does not write over a file.
func TestSetupNeverWritesOver(t *testing.T) {
	file, _, _ := benchtest.Room(t)
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	err = Run(t.Context(), Options{Config: file, In: benchtest.Script(t), Out: &out, Now: benchtest.Noon})
	if err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "is there already") {
		t.Errorf("over a file that is there: %v", err)
	}
	if after, err := os.ReadFile(file); err != nil || string(after) != string(before) {
		t.Errorf("the file is now %q, %v", after, err)
	}
}

// A folder in the place of the file is named as one, and is not to be moved away.
func TestSetupInAFolder(t *testing.T) {
	dir := t.TempDir()
	err := Run(t.Context(), Options{Config: dir, In: benchtest.Script(t), Out: io.Discard, Now: benchtest.Noon})
	if err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "is a folder") || strings.Contains(err.Error(), "mv ") {
		t.Errorf("%v", err)
	}
}

// A new season has its own folder and its own book. The book begins with the dams that are
// not retired and with the probes' calibrations.
func TestNextSeasonCarriesDamsOver(t *testing.T) {
	last, data, _ := benchtest.Room(t)
	c, err := client.Dial(t.Context(), last, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Note(t.Context(), []byte(`{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Tansy"}
{"key":"a3","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Yarrow","profile":"crested gecko"}
{"key":"a4","at":"2026-04-03T19:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"a5","at":"2026-09-03T19:00:00Z","entry":"retired","dam":"Tansy"}
{"key":"a6","at":"2026-09-03T19:00:00Z","entry":"calibrated","probe":"shelf","from":"2026-04-01T00:00:00Z","points":[{"reference_c":0,"read_c":0.4}]}
`)); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	next := filepath.Join(filepath.Dir(last), "next.toml")
	var out strings.Builder
	o := Options{Config: next, Last: last, Out: &out, Now: time.Now, In: benchtest.Script(t, data+"-2")}
	if err := Run(t.Context(), o); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	b, err := client.BookOf(t.Context(), next, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	var dams []string
	for _, f := range b.Dams() {
		dams = append(dams, f.Name+" "+f.Profile)
	}
	if got := fmt.Sprint(dams); got != "[Sorrel crested gecko Yarrow crested gecko]" {
		t.Errorf("dams: %s", got)
	}
	if k := b.Calibrations("shelf"); len(k) != 1 || len(b.Clutches()) != 0 {
		t.Errorf("calibrations %+v, clutches %+v", k, b.Clutches())
	}
	if old, err := client.BookOf(t.Context(), last, daemon.Build{}); err != nil || len(old.Dams()) != 3 || len(old.Clutches()) != 1 {
		t.Errorf("the last season's book is now %+v, %v", old.Dams(), err)
	}
	x, err := config.Load(next, probeconfig.Drivers())
	if err != nil || x.Station.Data != data+"-2" || len(x.Probes) != 1 {
		t.Errorf("%+v, %v", x.Station, err)
	}
	o.Config, o.In = next+"x", benchtest.Script(t, data)
	if err := Run(t.Context(), o); err == nil || !strings.Contains(err.Error(), "folder of its own") {
		t.Errorf("in the last season's folder: %v", err)
	}
}

// The offered folder lies where the packaged service may write, and is named by the
// year of the season to come.
func TestSeasonFolder(t *testing.T) {
	for _, c := range []struct {
		last string
		now  time.Time
		want string
	}{
		{"/var/lib/ootherm", time.Date(2026, 11, 29, 0, 0, 0, 0, time.UTC), "/var/lib/ootherm/2027"},
		{"/var/lib/ootherm/", time.Date(2027, 2, 1, 0, 0, 0, 0, time.UTC), "/var/lib/ootherm/2027"},
		{"/var/lib/ootherm/2027", time.Date(2027, 11, 29, 0, 0, 0, 0, time.UTC), "/var/lib/ootherm/2028"},
		{"/var/lib/ootherm/2027", time.Date(2027, 2, 1, 0, 0, 0, 0, time.UTC), "/var/lib/ootherm/2028"},
	} {
		if got := seasonFolder(c.last, c.now); got != c.want {
			t.Errorf("after %s, on %s: %s, want %s", c.last, c.now.Format(time.DateOnly), got, c.want)
		}
	}
	last, data, _ := benchtest.Room(t)
	want := filepath.Join(data, "2027")
	next := filepath.Join(filepath.Dir(last), "next.toml")
	var out strings.Builder
	if err := Run(t.Context(), Options{Config: next, Last: last, Out: &out, Now: benchtest.Noon, In: benchtest.Script(t, "")}); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	if c, err := config.Load(next, probeconfig.Drivers()); err != nil || c.Station.Data != want {
		t.Errorf("%+v, %v; want the data in %s", c.Station, err, want)
	}
}

// Only the folder changes, whatever else the last season's file holds.
func TestNextSeasonChangesTheFolderAlone(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", "[station]\ndata = \"/new\"\n\n"},
		{"# x\n[station] # y\nname = \"a\"\ndata  =  \"/old\" # z\nevery = \"5s\"\n[[probe]]\nname = \"data = 1\"\ndriver = \"simulated\"\n",
			"# x\n[station] # y\ndata = \"/new\"\nname = \"a\"\nevery = \"5s\"\n[[probe]]\nname = \"data = 1\"\ndriver = \"simulated\"\n"},
	} {
		if got, err := withDataFolder(c.text, "/new"); err != nil || got != c.want {
			t.Errorf("%q, %v; want %q", got, err, c.want)
		}
	}
	if got, err := withDataFolder("station = { data = \"/old\" }\n", "/new"); err == nil {
		t.Errorf("a section on one line: %q", got)
	}
}

// A new season that fails leaves neither a file nor a book behind, so the next try
// succeeds.
func TestNextSeasonThatFailsLeavesNothing(t *testing.T) {
	last, data, _ := benchtest.Room(t)
	c, err := client.Dial(t.Context(), last, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Note(t.Context(), []byte(`{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}`+"\n")); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	next, folder := filepath.Join(filepath.Dir(last), "next.toml"), data+"-2"
	benchtest.Lay(t, folder, nil)
	var out strings.Builder
	ctx, cancel := context.WithCancel(t.Context())
	// The context ends after the last question: the files are written, and noting the
	// entries fails.
	asked := 0
	o := Options{Config: next, Last: last, Out: &out, In: benchtest.Script(t, folder), Now: func() time.Time {
		if asked++; asked == 2 { // all is known, and it is about to write
			cancel()
		}
		return time.Now()
	}}
	if err := Run(ctx, o); err == nil || !strings.Contains(err.Error(), "nothing was written") {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	if _, err := os.Stat(next); !os.IsNotExist(err) {
		t.Errorf("%s is left: %v", next, err)
	}
	if left, err := os.ReadDir(folder); err != nil && !os.IsNotExist(err) || len(left) > 0 {
		t.Errorf("%v is left, %v", left, err)
	}
	o.In = benchtest.Script(t, folder)
	if err := Run(t.Context(), o); err != nil {
		t.Errorf("the next try: %v", err)
	}
}

// An arrow key in one answer does not lose the others. A name cannot move a secret's file
// to another folder. A data folder must be an absolute path.
func TestUnusableAnswersAreAskedAgain(t *testing.T) {
	root := t.TempDir()
	file, data := filepath.Join(root, "etc", "egg.toml"), filepath.Join(root, "data")
	bare := inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
	var out strings.Builder
	err := Run(t.Context(), Options{Config: file, Places: bare, Out: &out, Now: benchtest.Noon,
		In: benchtest.Script(t, "f", "egg\x1b[Aroom", "egg room", "", "", "74,5 °F", "Crested Gecko", "", "", "y",
			"webhook", "http://127.0.0.1:1/x", "../../evil", "hook", "y", "s3cret", "", "", "~/data", "data", data, "", "", "y")})
	if err == nil || !strings.Contains(err.Error(), file+" is written") || strings.Contains(err.Error(), "nothing was written") {
		t.Errorf("ended at the offer of a test message: %v after\n%s", err, out.String())
	}
	for _, want := range []string{"such as an arrow", `"../../evil" has a / in it`, `as /var/lib/ootherm; "~/data" has none`, `as /var/lib/ootherm; "data" has none`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
	text, err := os.ReadFile(file)
	if err != nil || !strings.Contains(string(text), `set_point = "74.5F"`) || !strings.Contains(string(text), `"`+data+`"`) {
		t.Errorf("%v; written was\n%s", err, text)
	}
	if _, err := os.Stat(filepath.Join(root, "etc", "hook.secret")); err != nil {
		t.Error(err)
	}
}

// A name that no configuration takes is refused where it is typed, and so is a folder that
// is a file. The other answers stay.
func TestInvalidNamesAreRefusedAtOnce(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{"hwmon/hwmon1/name": "sht4x\n", "hwmon/hwmon1/temp1_input": "23000\n", "a file": ""})
	file, long := filepath.Join(root, "egg.toml"), strings.Repeat("x", 65)
	var out strings.Builder
	err := Run(t.Context(), Options{Config: file, Out: &out, Now: benchtest.Noon,
		Places: inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: filepath.Join(root, "hwmon"), Wait: inventorytest.NoWait},
		In: benchtest.Script(t, "f", long, "egg room", "a\u200bb", "room", "", "", "1", "", "\u200b", "shelf", "", "", "webhook", "http://127.0.0.1:1/x", long, "hook", "n", "",
			"", filepath.Join(root, "a file"), filepath.Join(root, "a file", "x"), filepath.Join(root, "data"), "n", "", "y", "n")})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	for what, n := range map[string]int{"Not accepted: name is longer than 64 characters": 2, "Not accepted: name has the character": 2, "is a file, and no folder": 2} {
		if got := strings.Count(out.String(), what); got < n {
			t.Errorf("%q is told %d times, want %d, in\n%s", what, got, n, out.String())
		}
	}
	c, err := config.Load(file, probeconfig.Drivers())
	if err != nil || c.Station.Name != "egg room" || c.Zones[0].Name != "room" || c.Probes[0].Name != "shelf" || c.Senders[0].Name != "hook" {
		t.Errorf("%+v, %v", c, err)
	}
}
