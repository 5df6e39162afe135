package check_test

import (
	"bytes"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/check"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/manual"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/forecastlog/forecastlogtest"
)

// watch is a station of a configuration that a test steps by hand, a reading of each probe
// every minute.
type watch struct {
	*station.Station
	t       *testing.T
	options station.Options
	begin   time.Time
	at      time.Time
}

// newWatch starts a station of a room, with options that change has changed.
func newWatch(t *testing.T, r room, change func(*watch)) *watch {
	t.Helper()
	c, err := config.Load(r.written(t), probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.FromConfig(c)
	if err != nil {
		t.Fatal(err)
	}
	p.Every = time.Minute
	begin := time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)
	h := history.Memory(history.Options{GapLimit: 10 * time.Minute})
	boot, err := h.Begin("one", begin, 0, true)
	if err != nil {
		t.Fatal(err)
	}
	w := &watch{t: t, begin: begin, at: begin, options: station.Options{
		Plan: p, Boot: boot, ForecastEvery: 24 * time.Hour,
		Stores: station.Stores{History: h, Ledger: ledger.Memory(), Journal: outbox.NewMemory(), Shown: forecastlogtest.Open(t)},
	}}
	if change != nil {
		change(w)
	}
	w.start()
	return w
}

// start starts the station over what the stores hold, as after a restart.
func (w *watch) start() {
	w.t.Helper()
	var err error
	if w.Station, err = station.New(w.t.Context(), w.options, w.at); err != nil {
		w.t.Fatal(err)
	}
}

// run lets time pass. Celsius gives what each probe measures, by the hours since the start of
// the test.
func (w *watch) run(d time.Duration, celsius func(hours float64) map[string]float64) {
	w.t.Helper()
	for end := w.at.Add(d); w.at.Before(end); w.at = w.at.Add(w.options.Plan.Every) {
		var all []sensor.Reading
		for probe, c := range celsius(w.at.Sub(w.begin).Hours()) {
			all = append(all, sensor.Reading{Probe: probe, Stamp: sensor.Stamp{Boot: w.options.Boot.Number, Uptime: w.at.Sub(w.begin)},
				Measurement: sensor.Measurement{Celsius: c, Humidity: math.NaN()}})
		}
		if err := errors.Join(w.Observe(w.t.Context(), all), w.Tick(w.t.Context(), w.at)); err != nil {
			w.t.Fatal(err)
		}
	}
}

func (w *watch) act(a panel.Action) {
	w.t.Helper()
	if err := w.Act(w.t.Context(), a); err != nil {
		w.t.Fatal(err)
	}
}

func (w *watch) note(lines string) {
	w.t.Helper()
	all, err := book.ReadAll(strings.NewReader(lines))
	if err == nil {
		_, err = w.Note(w.t.Context(), book.NewDraft(all...))
	}
	if err != nil {
		w.t.Fatal(err)
	}
}

// told gives the messages since a time.
func (w *watch) told(since time.Time) string {
	w.t.Helper()
	all, err := w.options.Journal.Waiting(w.t.Context())
	if err != nil {
		w.t.Fatal(err)
	}
	var b strings.Builder
	for _, m := range all {
		if !m.At.Before(since) && !m.Over {
			b.WriteString(m.Subject + "\n" + m.Body + "\n")
		}
	}
	return b.String()
}

// steady is a room at 23 C; falling is one whose heater is dead.
func steady(float64) map[string]float64 { return map[string]float64{"air": 23} }

func falling(hours float64) map[string]float64 {
	return map[string]float64{"air": 23 - 10*(1-math.Exp(-hours/2))}
}

// eggs are two eggs in a box in the room.
const eggs = `{"key":"a1","at":"2026-04-02T12:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-04-02T12:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"a3","at":"2026-04-02T12:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":1,"laid_after":"2026-04-01T12:00:00Z","laid_by":"2026-04-02T12:00:00Z"}
{"key":"a4","at":"2026-04-02T12:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`

const (
	bands       = "wanted = { low = \"21C\", high = \"25C\" }\nsafe = { low = \"18C\", high = \"28C\" }\n"
	secondProbe = "\n[[probe]]\nname = \"dummy\"\ndriver = \"simulated\"\n"
	thirdProbe  = "\n[[probe]]\nname = \"third\"\ndriver = \"simulated\"\n"
	twoSenders  = "[[sender]]\nname = \"push\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/x\"\n[[sender]]\nname = \"chat\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/y\"\n"
)

// askedOf runs check over a room: what it writes, and how it ends.
func askedOf(t *testing.T, r room) (text, outcome string) {
	t.Helper()
	path := r.written(t)
	out, err := said(t, path)
	if err == nil {
		var more bytes.Buffer
		if err = check.Coverage(t.Context(), &more, path, daemon.Build{}); err == nil {
			return out + more.String(), "asked"
		}
	}
	if usererr.IsUsage(err) {
		return out + err.Error(), "refused"
	}
	return out + err.Error(), "fails"
}

// silentSettings are the ways to be silent by a setting, by their line in the manual.
func silentSettings(t *testing.T) map[string]room {
	hook := func(name, more string) string {
		return "[[sender]]\nname = \"" + name + "\"\nkind = \"webhook\"\nurl = \"https://hooks.example.org/x\"\n" + more + "\n"
	}
	missing := filepath.Join(t.TempDir(), "missing")
	return map[string]room{
		"a zone names a probe that is not there":        {zone: bands + "[[zone]]\nname = \"shelf\"\nprobes = [\"arm\"]\n"},
		"a zone without probes":                         {zone: bands + "[[zone]]\nname = \"shelf\"\nprobes = []\n"},
		"bands by hour that leave hours without a band": {zone: "safe = [{ from = \"22:00\", to = \"06:00\", low = \"18C\", high = \"28C\" }]"},
		"safe narrower than wanted":                     {zone: "wanted = { low = \"21C\", high = \"25C\" }\nsafe = { low = \"22C\", high = \"24C\" }"},
		"a probe in no zone and no box":                 {probe: secondProbe},
		"a zone without bands":                          {zone: "kind = \"room\""},
		"a band with one end":                           {zone: "wanted = { low = \"21C\" }\nsafe = { low = \"18C\", high = \"28C\" }"},
		"wanted without safe":                           {zone: "wanted = { low = \"21C\", high = \"25C\" }"},
		"on_delay of safe over an hour":                 {zone: "wanted = { low = \"21C\", high = \"25C\" }\nsafe = { low = \"18C\", high = \"28C\", on_delay = \"2h\" }"},
		"silent_after over a day":                       {probe: `silent_after = "2d"`},
		"an offset over 3 °C":                           {probe: `offset = "3.5C"`},
		"a rate that air never has":                     {zone: bands + `rate = "500C"`},
		"apart over 5 °C":                               {probe: secondProbe + thirdProbe, zone: bands + "[[zone]]\nname = \"shelf\"\nprobes = [\"dummy\", \"third\"]\napart = \"8C\"\n"},
		"a humidity band without a probe for it":        {probe: "\n[[probe]]\nname = \"wire\"\ndriver = \"ds18b20\"\naddress = \"28-0123456789ab\"\n", zone: bands + "[[zone]]\nname = \"shelf\"\nprobes = [\"wire\"]\nhumidity = { low = \"50%\" }\n"},
		"a password file that cannot be read":           {senders: hook("push", "") + "[[sender]]\nname = \"mail\"\nkind = \"email\"\nhost = \"127.0.0.1\"\ntls = \"none\"\nto = [\"keeper@example.org\"]\nuser = \"keeper\"\npassword_file = \"" + missing + "\"\n"},
		"every sender quiet at the same hours":          {senders: hook("push", `quiet = { from = "22:00", to = "07:00" }`)},
		"quiet all day":                                 {senders: hook("push", `quiet = { from = "00:00", to = "23:59" }`)},
		"a second person with a long after":             {senders: hook("push", "") + hook("neighbour", `after = "10d"`)},
		"no heartbeat":                                  {},
		"a heartbeat that does not get out":             {station: `heartbeat = "http://127.0.0.1:1/x"`},
		"no sender":                                     {senders: "[copy]"},
		"no sender that takes critical alarms":          {senders: hook("push", `priorities = ["warning"]`)},
	}
}

// silentEvents are the ways to be silent that come while the station runs, by their line in
// the manual, with what the station tells.
var silentEvents = map[string]func(*testing.T) string{
	"the heartbeat stops getting out later": func(t *testing.T) string {
		w := newWatch(t, room{}, func(w *watch) {
			w.options.Heartbeat = func() (notice.Failure, bool) { return notice.Failure{Since: w.begin, Err: "no route"}, true }
		})
		w.run(4*time.Hour, steady)
		return w.told(w.begin)
	},
	"a sender stops getting out": func(t *testing.T) string {
		w := newWatch(t, room{senders: twoSenders}, func(w *watch) {
			w.options.Troubles = func() map[string]notice.Failure {
				return map[string]notice.Failure{"push": {Since: w.begin, Err: "no route"}}
			}
		})
		w.run(time.Hour, steady)
		return w.told(w.begin)
	},
	"the time of day is not known": func(t *testing.T) string {
		w := newWatch(t, room{}, func(w *watch) { w.options.Boot.Synchronised = false })
		w.run(2*time.Hour, steady)
		return w.told(w.begin)
	},
	"a zone switched off, with eggs past safe": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		w.note(eggs)
		w.run(10*time.Minute, steady)
		w.act(panel.Action{Do: panel.TakeOut, Zone: "room"})
		w.run(6*time.Hour, falling)
		return w.told(w.begin)
	},
	"a box by its own probe, in no zone's list": func(t *testing.T) string {
		w := newWatch(t, room{probe: secondProbe}, nil)
		w.note(strings.Replace(eggs, `"zone":"room"`, `"zone":"room","probe":"dummy"`, 1))
		w.run(3*time.Hour, func(h float64) map[string]float64 { return map[string]float64{"air": 23, "dummy": 23 + 2*h} })
		return w.told(w.begin)
	},
	"a probe that dies": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		w.run(10*time.Minute, steady)
		w.run(time.Hour, func(float64) map[string]float64 { return nil })
		return w.told(w.begin)
	},
	"a probe that comes and goes": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		w.run(6*time.Hour, func(h float64) map[string]float64 {
			if math.Mod(h, 1.0/3) > 1.0/6 {
				return nil
			}
			return map[string]float64{"air": 23}
		})
		return w.told(w.begin)
	},
	"a probe that is wrong": func(t *testing.T) string {
		w := newWatch(t, room{probe: secondProbe + thirdProbe, zone: bands + "[[zone]]\nname = \"shelf\"\nprobes = [\"dummy\", \"third\"]\n"}, nil)
		w.run(3*time.Hour, func(float64) map[string]float64 { return map[string]float64{"air": 23, "dummy": 23, "third": 27.5} })
		return w.told(w.begin)
	},
	"two probes swapped": func(t *testing.T) string {
		w := newWatch(t, room{probe: secondProbe, zone: bands + "[[zone]]\nname = \"incubator\"\nprobes = [\"dummy\"]\nwanted = { low = \"30C\", high = \"32C\" }\nsafe = { low = \"28C\", high = \"34C\" }\n"}, nil)
		w.run(time.Hour, func(float64) map[string]float64 { return map[string]float64{"air": 23, "dummy": 31} })
		w.run(time.Hour, func(float64) map[string]float64 { return map[string]float64{"air": 31, "dummy": 23} })
		return w.told(w.begin)
	},
	"a day of restarts while a heater dies": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		for range 48 {
			w.run(30*time.Minute, func(h float64) map[string]float64 { return falling(max(0, h-12)) })
			w.start()
		}
		return w.told(w.begin)
	},
	"the station was off": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		w.run(time.Hour, steady)
		w.at = w.at.Add(3 * time.Hour)
		w.start()
		w.run(30*time.Minute, steady)
		return w.told(w.begin)
	},
	"an alarm that is quiet for a while": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		w.run(3*time.Hour, falling)
		w.act(panel.Action{Do: panel.Shelve, Zone: "room", Until: w.at.Add(time.Hour)})
		quiet := w.at
		w.run(59*time.Minute, falling)
		if got := w.told(quiet); strings.Contains(got, "too cold") {
			t.Errorf("while it is to be quiet it says\n%s", got)
		}
		ends := w.at
		w.run(time.Hour, falling)
		return w.told(ends)
	},
	"a critical alarm that was seen, and lasts": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		w.run(4*time.Hour, falling)
		w.act(panel.Action{Do: panel.Acknowledge, Zone: "room"})
		seen := w.at
		w.run(2*time.Hour, falling)
		return w.told(seen)
	},
	"a zone that has learned nothing yet": func(t *testing.T) string {
		w := newWatch(t, room{}, nil)
		w.run(90*time.Minute, func(h float64) map[string]float64 { return map[string]float64{"air": 23 - 3*h} })
		return w.told(w.begin)
	},
	"the card is full": func(t *testing.T) string {
		w := newWatch(t, room{}, func(w *watch) { w.options.Free = func() (uint64, error) { return 50 << 20, nil } })
		w.run(time.Hour, steady)
		return w.told(w.begin)
	},
}

// silentRow is a line of the manual's table.
type silentRow struct{ what, outcome, words string }

func manualRows(t *testing.T) (rows []silentRow) {
	t.Helper()
	for _, topic := range manual.Topics() {
		if topic.Name != "silent-alarms" {
			continue
		}
		for line := range strings.Lines(topic.Markdown()) {
			cells := strings.Split(strings.TrimSpace(line), "|")
			if len(cells) != 5 || strings.Contains(line, "---") || strings.Contains(line, "in these words") {
				continue
			}
			cell := func(i int) string { return strings.TrimSpace(strings.ReplaceAll(cells[i], "`", "")) }
			rows = append(rows, silentRow{cell(1), cell(2), strings.Trim(cell(3), `"`)})
		}
	}
	if len(rows) < 20 {
		t.Fatalf("the manual has %d ways to be silent", len(rows))
	}
	return rows
}

// Every way to be silent that the manual lists is refused, asked or told by the real program,
// in the words that the manual gives; and every way that is tested is in the manual.
func TestSilentAlarms(t *testing.T) {
	settings := silentSettings(t)
	listed := map[string]bool{}
	for _, row := range manualRows(t) {
		listed[row.what] = true
		t.Run(row.what, func(t *testing.T) {
			text, outcome := "", "told"
			if r, ok := settings[row.what]; ok {
				text, outcome = askedOf(t, r)
			} else if run := silentEvents[row.what]; run != nil {
				text = run(t)
			} else {
				t.Fatal("the manual lists it, and nothing tests it")
			}
			if outcome != row.outcome {
				t.Errorf("it is %s, and the manual says %s:\n%s", outcome, row.outcome, text)
			}
			if row.words == "" || !strings.Contains(text, row.words) {
				t.Errorf("it does not say %q:\n%s", row.words, text)
			}
		})
	}
	for what := range settings {
		if !listed[what] {
			t.Errorf("the manual lacks %q", what)
		}
	}
	for what := range silentEvents {
		if !listed[what] {
			t.Errorf("the manual lacks %q", what)
		}
	}
}

// Where nothing is wrong, no way to be silent is said: a room that goes on as it is leads to no
// message.
func TestNothingIsToldOfASteadyRoom(t *testing.T) {
	w := newWatch(t, room{}, nil)
	w.note(eggs)
	w.run(6*time.Hour, steady)
	if got := w.told(w.begin); got != "" {
		t.Errorf("it says\n%s", got)
	}
}
