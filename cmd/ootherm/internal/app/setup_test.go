package app

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/config"
)

func script(t *testing.T, lines ...string) *person {
	p := &person{t: t}
	for _, l := range lines {
		p.lines = append(p.lines, step{line: l})
	}
	return p
}

func noon() time.Time { return time.Date(2027, 1, 5, 12, 0, 0, 0, time.UTC) }

// postOffice takes one message on a port of this machine.
func postOffice(t *testing.T) (address string, letter <-chan string) {
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
		in, data := bufio.NewScanner(c), false
		for in.Scan() {
			line := in.Text()
			switch {
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

// A breeder's answers, slips included, come out as a configuration that a check
// accepts, with the probes that answered; and a message goes out.
func TestSetupWritesWhatWasAnswered(t *testing.T) {
	places, _ := board(t)
	address, letter := postOffice(t)
	file := filepath.Join(t.TempDir(), "etc", "egg.toml")
	data := filepath.Join(t.TempDir(), "data")
	var out strings.Builder
	err := Setup(t.Context(), SetupOptions{
		Config: file, Places: places, Out: &out, Now: noon,
		In: script(t, "kelvin", "f", `the "egg" room`, "", "inc", "23", "74", "basilisk", "crested gecko",
			"air", "air", "upper", "dummy-box", "-", "-", "-", // six probes answer, one name is taken at first
			"pigeon", "email", "mail", address, "keeper@example.org", "", "", "beat", "https://beat.example.org/x", data, "", "y", "y"),
	})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	c, err := config.Load(file)
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
	for _, want := range []string{`"kelvin" is none of these`, `"23" is no set point between 50.0 °F and 104.0 °F`, `"basilisk" is none of these`, `"air" is another's name already`, "is in order", `"pigeon" is none of these`, "That cannot be: heartbeat", "mail took the test message", "at http://127.0.0.1:8080, on this machine"} {
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

// Enter at every question is a configuration too, as far as one can go without a
// probe: invented ones are offered.
func TestSetupOfABareMachine(t *testing.T) {
	root := t.TempDir()
	file := filepath.Join(root, "egg.toml")
	bare := Places{I2C: root, W1: root, IIO: root, Hwmon: root, wait: noWait}
	var out strings.Builder
	enter := []string{"c", "", "", "", "23.3", "1"}
	if err := Setup(t.Context(), SetupOptions{Config: file, Places: bare, data: filepath.Join(root, "data"), Out: &out, Now: noon, In: script(t, append(enter, "n")...)}); err == nil || !strings.Contains(err.Error(), "nothing was written") {
		t.Errorf("without a probe: %v", err)
	}
	if !strings.Contains(out.String(), "There is no 1-Wire bus") {
		t.Errorf("shown:\n%s", out.String())
	}
	if _, err := os.Stat(file); err == nil {
		t.Error("a file was written")
	}
	if err := Setup(t.Context(), SetupOptions{Config: file, Places: bare, data: filepath.Join(root, "data"), Out: &out, Now: noon, In: script(t, append(enter, "y", "", "", "", "", "y")...)}); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	if c, err := config.Load(file); err != nil || len(c.Senders) != 0 || c.Probes[0].Driver != "simulated" {
		t.Errorf("%+v, %v", c, err)
	}
}

// Every species built in comes out as a configuration, in either unit and with a
// thermostat far outside what is usual for it.
func TestSetupOfEverySpecies(t *testing.T) {
	root := t.TempDir()
	bare := Places{I2C: root, W1: root, IIO: root, Hwmon: root, wait: noWait}
	for n := 1; ; n++ {
		ended := false
		for _, x := range [][2]string{{"c", "15"}, {"f", "100"}, {"f", ""}} {
			file := filepath.Join(root, fmt.Sprint(n, x[0], x[1], ".toml"))
			var out strings.Builder
			err := Setup(t.Context(), SetupOptions{Config: file, Places: bare, data: filepath.Join(root, "data"), Out: &out, Now: noon,
				In: script(t, x[0], "", "", "", x[1], fmt.Sprint(n), "y", "", "", "", "", "y")})
			if ended = strings.Contains(out.String(), fmt.Sprintf("%q is none of these; another kind", fmt.Sprint(n))); ended {
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

// What is there already stays as it is.
func TestSetupNeverWritesOver(t *testing.T) {
	file, _, _ := room(t)
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	err = Setup(t.Context(), SetupOptions{Config: file, In: script(t), Out: &out, Now: noon})
	if err == nil || !Misconfigured(err) || !strings.Contains(err.Error(), "is there already") {
		t.Errorf("over a file that is there: %v", err)
	}
	if after, err := os.ReadFile(file); err != nil || string(after) != string(before) {
		t.Errorf("the file is now %q, %v", after, err)
	}
}

// A new season has a folder and a book of its own, which begins with the dams
// that go on and with what is known of the probes.
func TestNextSeasonCarriesDamsOver(t *testing.T) {
	last, data, _ := room(t)
	c, err := Dial(t.Context(), last, Build{})
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
	o := SetupOptions{Config: next, Last: last, Out: &out, Now: time.Now, In: script(t, data+"-2")}
	if err := Setup(t.Context(), o); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	b, err := bookOf(t.Context(), next, Build{})
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
	if old, err := bookOf(t.Context(), last, Build{}); err != nil || len(old.Dams()) != 3 || len(old.Clutches()) != 1 {
		t.Errorf("the last season's book is now %+v, %v", old.Dams(), err)
	}
	x, err := config.Load(next)
	if err != nil || x.Station.Data != data+"-2" || len(x.Probes) != 1 {
		t.Errorf("%+v, %v", x.Station, err)
	}
	o.Config, o.In = next+"x", script(t, data)
	if err := Setup(t.Context(), o); err == nil || !strings.Contains(err.Error(), "folder of its own") {
		t.Errorf("in the last season's folder: %v", err)
	}
}

// Whatever the last season's file looks like, only its folder changes.
func TestNextSeasonChangesTheFolderAlone(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"", "[station]\ndata = \"/new\"\n\n"},
		{"# x\n[station] # y\nname = \"a\"\ndata  =  \"/old\" # z\nevery = \"5s\"\n[[probe]]\nname = \"data = 1\"\ndriver = \"simulated\"\n",
			"# x\n[station] # y\ndata = \"/new\"\nname = \"a\"\nevery = \"5s\"\n[[probe]]\nname = \"data = 1\"\ndriver = \"simulated\"\n"},
	} {
		if got, err := elsewhere(c.text, "/new"); err != nil || got != c.want {
			t.Errorf("%q, %v; want %q", got, err, c.want)
		}
	}
	if got, err := elsewhere("station = { data = \"/old\" }\n", "/new"); err == nil {
		t.Errorf("a section on one line: %q", got)
	}
}

// A season that cannot be begun leaves neither a file nor a book behind: the next try
// finds all as it was.
func TestNextSeasonThatFailsLeavesNothing(t *testing.T) {
	last, data, _ := room(t)
	c, err := Dial(t.Context(), last, Build{})
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
	lay(t, folder, nil)
	var out strings.Builder
	ctx, cancel := context.WithCancel(t.Context())
	// Told to stop once the last question is answered, it writes its files and is then
	// stopped as it fills the book.
	asked := 0
	o := SetupOptions{Config: next, Last: last, Out: &out, In: script(t, folder), Now: func() time.Time {
		if asked++; asked == 2 { // all is known, and it is about to write
			cancel()
		}
		return time.Now()
	}}
	if err := Setup(ctx, o); err == nil || !strings.Contains(err.Error(), "nothing was written") {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	if _, err := os.Stat(next); !os.IsNotExist(err) {
		t.Errorf("%s is left: %v", next, err)
	}
	if left, err := os.ReadDir(folder); err != nil && !os.IsNotExist(err) || len(left) > 0 {
		t.Errorf("%v is left, %v", left, err)
	}
	o.In = script(t, folder)
	if err := Setup(t.Context(), o); err != nil {
		t.Errorf("the next try: %v", err)
	}
}
