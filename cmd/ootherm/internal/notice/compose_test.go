package notice_test

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
	"example.com/ootherm/alert/daily"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

var update = flag.Bool("update", false, "write the golden messages again")

var (
	noon   = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)
	reader = words.Reader{Units: words.Celsius, Today: func() time.Time { return noon }}

	tooCold      = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "room"}
	tooColdEggs  = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}
	tooDry       = alert.Key{Kind: alert.HumidityLow, Priority: alert.Warning, Zone: "room"}
	driftDown    = alert.Key{Kind: alert.DriftDown, Priority: alert.Warning, Zone: "room"}
	fast         = rules.RateOfChange("room")
	disagree     = alert.Key{Kind: alert.ProbesDisagree, Priority: alert.Warning, Zone: "room"}
	airSilent    = alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: "room", Probe: "air"}
	warmSilent   = alert.Key{Kind: alert.ProbeSilent, Priority: alert.Critical, Zone: "incubator", Probe: "warm"}
	wallSilent   = alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: "room", Probe: "wall"}
	drier        = rules.HumidityTrend("room", false)
	noHumidity   = alert.Key{Kind: alert.HumiditySilent, Priority: alert.Warning, Zone: "room", Probe: "air"}
	long         = rules.ExposureAlarm(alert.SingleEvent, "", "B1")
	longSecond   = rules.ExposureAlarm(alert.SingleEvent, "", "B2")
	opening      = rules.WindowOpening("S1", "B1")
	hatching     = rules.Hatching("S1", "B1")
	dry          = rules.Drying("B1", alert.Warning)
	off          = panel.Reminder("room")
	clock        = alert.Key{Kind: alert.ClockUnverified, Priority: alert.Notice}
	restarted    = alert.Key{Kind: alert.StationRestarted, Priority: alert.Notice}
	copyFailing  = alert.Key{Kind: alert.CopyFailing, Priority: alert.Notice}
	noHeartbeat  = alert.Key{Kind: alert.HeartbeatFailing, Priority: alert.Notice}
	damaged      = alert.Key{Kind: alert.HistoryDamaged, Priority: alert.Notice}
	mailFailing  = rules.SenderFailing("mail")
	oneWireFails = rules.BusSilence("1-Wire")
)

func ptr[T any](v T) *T { return &v }

func ago(d time.Duration) time.Time { return noon.Add(-d) }

// raised is an alarm's begin as it is told, the value having passed the limit 40 minutes ago.
func raised(k alert.Key, value, limit float64) alert.Event {
	return alert.Event{At: noon, Key: k, From: alert.Normal, To: alert.Active, Began: ago(40 * time.Minute), Value: value, Limit: limit, Peak: value}
}

func ended(k alert.Key, value, limit, peak float64) alert.Event {
	return alert.Event{At: noon, Key: k, From: alert.Active, To: alert.Normal, Began: ago(3 * time.Hour), Value: value, Limit: limit, Peak: peak}
}

func gone(e alert.Event) alert.Event { e.Gone = true; return e }

// house is a room with two probes and two boxes, and an incubator with one probe.
func house() notice.Facts {
	return notice.Facts{
		Now: noon, Station: "egg room", Started: ago(48 * time.Hour),
		Zones: []notice.Zone{
			{Name: "room", ApartK: 1.5, Probes: []string{"air", "wall"}, TrendKPerHour: -1, RecentKPerHour: -1.8, Banded: true, Low: ptr(22.0), High: ptr(24.0), Extreme: ptr(21.2)},
			{Name: "incubator", Probes: []string{"warm"}, TrendKPerHour: math.NaN(), RecentKPerHour: math.NaN()},
		},
		Probes: map[string]notice.Probe{
			"air":  {Name: "air", Celsius: 21.2, Fresh: true, Heard: true},
			"wall": {Name: "wall", Celsius: 22, Fresh: true, Heard: true},
			"warm": {Name: "warm", Celsius: 27, Heard: true},
		},
		Buses: map[string][]string{"1-Wire": {"air", "wall"}},
		Clutches: []notice.Clutch{
			{Name: "S1", Box: "B1", Zone: "room", Dams: []string{"Sorrel"}, Waiting: true, Left: 2, Developed: ptr(0.85),
				Window: &snapshot.Window{CheckFrom: noon.AddDate(0, 0, 3), Likely: noon.AddDate(0, 0, 6), LateAfter: noon.AddDate(0, 0, 11)}},
			{Name: "T1", Box: "B2", Zone: "room", Waiting: true, Left: 1, Developed: ptr(0.3)},
			{Name: "Q1", Box: "B3", Zone: "room"},
		},
		Alarms: map[alert.Key]notice.Alarm{},
	}
}

// samples are steps of one event or several, by name.
func samples() map[string]sample {
	lowest := alert.Limit{At: 20}
	return map[string]sample{
		"too cold, and getting colder": {
			events: []alert.Event{raised(tooCold, 21.2, 22)},
			facts: func(f *notice.Facts) {
				f.URL = "http://192.168.1.20:8080/"
				f.Alarms[tooCold] = notice.Alarm{Alarm: alert.New(tooCold, alert.Limit{At: 22, ReAlarm: 6 * time.Hour}), Probe: "air",
					SafeLimit: &snapshot.Coming{Limit: 20, About: noon.Add(72 * time.Minute), Earliest: noon.Add(50 * time.Minute), Latest: ptr(noon.Add(100 * time.Minute))}}
				f.Alarms[tooColdEggs] = notice.Alarm{Alarm: alert.New(tooColdEggs, lowest)}
			},
		},
		"too cold, past the safe limit already": {
			events: []alert.Event{raised(tooCold, 19.2, 22)},
			facts: func(f *notice.Facts) {
				f.Alarms[tooCold] = notice.Alarm{Alarm: alert.New(tooCold, alert.Limit{At: 22, ReAlarm: 6 * time.Hour}), Probe: "air"}
				f.Alarms[tooColdEggs] = notice.Alarm{Alarm: alert.New(tooColdEggs, alert.Limit{At: 20, OnDelay: 10 * time.Minute})}
			},
		},
		"too cold for the eggs": {
			events: []alert.Event{raised(tooColdEggs, 19.2, 20)},
			facts: func(f *notice.Facts) {
				f.Probes["wall"] = notice.Probe{Name: "wall", Celsius: 24, Fresh: true}
				f.Alarms[tooColdEggs] = notice.Alarm{Probe: "air"}
			},
		},
		"too cold on the third night":          {events: []alert.Event{raised(tooCold, 21.8, 22)}, stage: func(t *episode.Told) { t.Stage, t.Days = episode.Began, 3 }},
		"too cold, and not as on other nights": {events: []alert.Event{raised(tooCold, 21.3, 22)}, stage: func(t *episode.Told) { t.Stage, t.Days, t.Unlike = episode.Began, 15, episode.UnlikeWorse }},
		"too dry on the tenth day":             {events: []alert.Event{raised(tooDry, 0.41, 0.6)}, stage: func(t *episode.Told) { t.Stage, t.Days = episode.Began, 10 }},
		"too cold on the second night":         {events: []alert.Event{raised(tooCold, 21.8, 22)}, stage: func(t *episode.Told) { t.Stage, t.Days = episode.Began, 2 }},
		"too dry":                              {events: []alert.Event{raised(tooDry, 0.41, 0.6)}},
		"a drift": {
			events: []alert.Event{raised(driftDown, 21.2, 20)},
			facts: func(f *notice.Facts) {
				f.Alarms[driftDown] = notice.Alarm{Drift: &snapshot.Coming{Limit: 20, About: noon.Add(time.Hour), Earliest: noon.Add(30 * time.Minute)}, DriftProbe: "air", Probe: "air"}
			},
		},
		"a fast change": {
			events: []alert.Event{raised(fast, 4, 3)},
			facts: func(f *notice.Facts) {
				f.Zones[0].NextLimit = &snapshot.Coming{Limit: 20, About: noon.Add(time.Hour), Earliest: noon.Add(30 * time.Minute)}
			},
		},
		"probes that disagree": {events: []alert.Event{raised(disagree, 4.1, 3)}},
		"a silent probe":       {events: []alert.Event{raised(airSilent, 2400, 600)}},
		"a probe silent while it fell": {events: []alert.Event{raised(airSilent, 2400, 600)}, facts: func(f *notice.Facts) {
			f.Probes["air"] = notice.Probe{Name: "air", Celsius: 20.3, Heard: true, BeforeK: -1.44}
		}},
		"a probe silent since before a start": {events: []alert.Event{raised(airSilent, 2400, 600)}, facts: func(f *notice.Facts) {
			f.Probes["air"] = notice.Probe{Name: "air", Celsius: math.NaN(), Heard: true, BeforeK: math.NaN()}
		}},
		"a probe never heard": {events: []alert.Event{raised(warmSilent, 2400, 600)}, facts: func(f *notice.Facts) { f.Probes["warm"] = notice.Probe{Name: "warm", Celsius: math.NaN()} }},
		"a silent bus":        {events: []alert.Event{raised(oneWireFails, 2400, 600)}},
		"drier from day to day": {events: []alert.Event{raised(drier, 1, 1)}, facts: func(f *notice.Facts) {
			f.Alarms[drier] = notice.Alarm{Humidity: &daily.Coming{Limit: 0.55, Now: 0.61, PerDay: -0.021, Days: 6, At: noon.Add(56 * time.Hour)}}
		}},
		"a thermostat's cycle that stopped": {events: []alert.Event{raised(driftDown, 20, 20)}, facts: func(f *notice.Facts) {
			f.Alarms[driftDown] = notice.Alarm{
				Drift: &snapshot.Coming{Limit: 20, About: noon.Add(time.Hour), Earliest: noon.Add(30 * time.Minute)}, DriftProbe: "air", Probe: "air",
				Stopped: cycle.Stop{Since: 35 * time.Minute, Usual: 20 * time.Minute},
			}
		}},
		"a lost humidity": {events: []alert.Event{raised(noHumidity, 1, 1)}, facts: func(f *notice.Facts) {
			p := f.Probes["air"]
			p.HumidityCause = "range"
			f.Probes["air"] = p
			f.Zones[0].WatchesHumidity = true
		}},
		"too long out of band": {events: []alert.Event{raised(long, 7200, 3600)}, facts: func(f *notice.Facts) {
			f.Alarms[long] = notice.Alarm{Zone: "room", Exceeded: &notice.Exceeded{High: true, Celsius: 30, For: 2 * time.Hour}}
		}},
		"a window that opens": {events: []alert.Event{raised(opening, 1, 1)}},
		"a mate has hatched": {events: []alert.Event{raised(hatching, 1, 1)}, facts: func(f *notice.Facts) {
			x := &f.Clutches[0]
			x.State, x.Eggs, x.Left, x.Last, x.LastHatched = "hatching", []string{"S1-2"}, 1, "S1-1", true
		}},
		"an egg has pipped, among several": {events: []alert.Event{raised(hatching, 1, 1)}, facts: func(f *notice.Facts) {
			x := &f.Clutches[0]
			x.State, x.Eggs, x.Left, x.Last = "hatching", []string{"S1-1", "S1-2", "S1-3", "S1-4"}, 4, "S1-1"
			x.Window.Likely = time.Time{}
		}},
		"the last egg has pipped": {events: []alert.Event{raised(hatching, 1, 1)}, facts: func(f *notice.Facts) {
			x := &f.Clutches[0]
			x.State, x.Eggs, x.Left, x.Last, x.Window = "hatching", []string{"S1-1"}, 1, "S1-1", nil
		}},
		"a box that dries": {events: []alert.Event{raised(dry, 1, 1)}, facts: func(f *notice.Facts) {
			f.Media = map[string]*snapshot.Medium{"B1": {Add: ptr(30.0), AddLow: ptr(28.0), AddHigh: ptr(32.0), Weighed: ptr(ago(time.Hour)), Lost: ptr(0.25), PerDay: ptr(3.0)}}
		}},
		"a box that probably dries": {events: []alert.Event{raised(rules.Drying("B1", alert.Notice), 1, 1)}, facts: func(f *notice.Facts) {
			f.Media = map[string]*snapshot.Medium{"B1": {Add: ptr(3.0), AddLow: ptr(2.0), AddHigh: ptr(4.0), Weighed: ptr(ago(9 * 24 * time.Hour)), Lost: ptr(0.05), Drying: drying(0.22, 1.6)}}
		}},
		"a box that is probably dry": {events: []alert.Event{raised(dry, 1, 1)}, facts: func(f *notice.Facts) {
			f.Media = map[string]*snapshot.Medium{"B1": {Add: ptr(10.0), AddLow: ptr(9.0), AddHigh: ptr(11.0), Weighed: ptr(ago(9 * 24 * time.Hour)), Lost: ptr(0.22), Drying: drying(0.41, 2.3)}}
		}},
		"air that dries boxes": {events: []alert.Event{raised(rules.DryingFast("room"), 1, 1)}, facts: func(f *notice.Facts) {
			f.Media = map[string]*snapshot.Medium{"B1": {Drying: drying(0.1, 2.3)}}
		}},
		"a box to weigh": {events: []alert.Event{raised(dry, 1, 1)}},
		"a zone switched off": {events: []alert.Event{raised(off, 86400, 86400)}, facts: func(f *notice.Facts) {
			f.OutOfService = []notice.OutOfService{{Zone: "room", Since: ago(24 * time.Hour), Whole: true}}
		}},
		"one alarm put aside": {events: []alert.Event{raised(off, 86400, 86400)}, facts: func(f *notice.Facts) {
			f.OutOfService = []notice.OutOfService{{Zone: "room", Since: ago(24 * time.Hour), Keys: []alert.Key{tooDry, disagree, airSilent, tooCold, fast}}}
		}},
		"an unknown clock":   {events: []alert.Event{raised(clock, 1, 1)}},
		"a restart":          {events: []alert.Event{raised(restarted, 1, 1)}, facts: func(f *notice.Facts) { f.Started, f.Off = ago(time.Minute), 2*time.Hour }},
		"a card nearly full": {events: []alert.Event{raised(rules.StorageFull, 1, 1)}, facts: func(f *notice.Facts) { f.FreeBytes = 90 << 20 }},
		"a card that fails":  {events: []alert.Event{raised(rules.StorageFailing, 1, 1)}},
		"a failing sender": {events: []alert.Event{raised(mailFailing, 1, 1)}, facts: func(f *notice.Facts) {
			f.Senders = map[string]notice.Failure{"mail": {Since: ago(2 * time.Hour), Err: "the server does not answer"}}
		}},
		"a failing copy": {events: []alert.Event{raised(copyFailing, 1, 1)}, facts: func(f *notice.Facts) { f.CopyTrouble = "the stick is full" }},
		"a heartbeat that does not get out": {events: []alert.Event{raised(noHeartbeat, 1, 1)}, facts: func(f *notice.Facts) {
			f.Heartbeat = notice.Failure{Since: ago(3 * time.Hour), Err: "https://watch.example.org answered 404 Not Found"}
		}},
		"damaged readings": {
			events: []alert.Event{raised(damaged, 1, 1)},
			facts: func(f *notice.Facts) {
				for i := range 4 {
					f.Damages = append(f.Damages, notice.Damage{Probe: "air", From: ago(time.Duration(6*i+6) * time.Hour), To: ago(time.Duration(6*i) * time.Hour)})
				}
				f.ReadError = "the file is busy"
			},
		},
		"too cold is over": {
			events: []alert.Event{ended(tooCold, 22.6, 22, 20.4)},
			facts: func(f *notice.Facts) {
				f.Alarms[tooCold] = notice.Alarm{HatchMoved: &notice.Moved{LeastDays: 1.21, MostDays: 1.25}}
			},
		},
		"safe again, and still too cold": {
			events: []alert.Event{ended(tooColdEggs, 20.6, 20, 19.4)},
			facts: func(f *notice.Facts) {
				x := alert.New(tooCold, alert.Limit{At: 22})
				x.True = true
				f.Alarms[tooCold] = notice.Alarm{Alarm: x}
			},
		},
		"another limit ends it": {
			events: []alert.Event{ended(tooCold, 21.5, 21, 21.2)},
			facts: func(f *notice.Facts) {
				f.Alarms[tooCold] = notice.Alarm{RaisedBy: &alert.Limit{At: 22}}
			},
		},
		"a drift that comes near the safe limit": {
			events: []alert.Event{raised(driftDown, 21.2, 20)},
			stage:  func(t *episode.Told) { t.Stage, t.SafeAt = episode.Began, noon.Add(48*time.Minute) },
			facts: func(f *notice.Facts) {
				f.Alarms[driftDown] = notice.Alarm{Drift: &snapshot.Coming{Limit: 20, About: noon.Add(48 * time.Minute), Earliest: noon.Add(30 * time.Minute), Latest: ptr(noon.Add(80 * time.Minute))}, DriftProbe: "air", Probe: "air"}
			},
		},
		"a drift with hours left": {
			events: []alert.Event{raised(driftDown, 21.2, 22)},
			stage:  func(t *episode.Told) { t.Stage, t.SafeAt = episode.Began, noon.Add(190*time.Minute) },
			facts: func(f *notice.Facts) {
				f.Alarms[driftDown] = notice.Alarm{Drift: &snapshot.Coming{Limit: 22, About: noon.Add(time.Hour), Earliest: noon.Add(30 * time.Minute)}, DriftProbe: "air", Probe: "air"}
			},
		},
		"too cold comes and goes": {events: []alert.Event{raised(tooCold, 21.2, 22)}, stage: recurs(false)},
		"a room that swings":      {events: []alert.Event{raised(tooCold, 21.2, 22)}, stage: recurs(true)},
		"a loose plug":            {events: []alert.Event{raised(warmSilent, 2400, 600)}, stage: recurs(false)},
		"a room that holds": {
			events: []alert.Event{raised(driftDown, 21.2, 22)},
			stage:  func(t *episode.Told) { t.Stage = episode.Holds },
			facts:  func(f *notice.Facts) { f.Alarms[driftDown] = notice.Alarm{Usual: ptr(22.4), Probe: "air"} },
		},
		"a drift that ends": {events: []alert.Event{ended(driftDown, 21.5, 20, 21.2)}},
		"a limit that goes": {
			events: []alert.Event{gone(ended(tooCold, 21.5, 22, 20.4))},
			facts:  func(f *notice.Facts) { f.Alarms[tooCold] = notice.Alarm{GoneWhy: notice.GoneByHour} },
		},
		"a limit that went before the start": {
			events: []alert.Event{gone(ended(airSilent, 21.5, 22, 20.4))},
			facts:  func(f *notice.Facts) { f.Alarms[airSilent] = notice.Alarm{GoneWhy: notice.GoneBeforeStart} },
		},
		"two boxes too long out of band": {
			events: []alert.Event{raised(long, 7200, 3600), raised(longSecond, 7200, 3600)},
			facts: func(f *notice.Facts) {
				for _, k := range []alert.Key{long, longSecond} {
					f.Alarms[k] = notice.Alarm{Zone: "room", Exceeded: &notice.Exceeded{Celsius: 20, For: 2 * time.Hour}}
				}
			},
		},
		"both limits at once, the safe one first": {events: []alert.Event{raised(tooCold, 19.2, 22), raised(tooColdEggs, 19.2, 20)}},
		"three probes speak again":                {events: []alert.Event{ended(airSilent, 1, 2, 3), ended(warmSilent, 1, 2, 3), ended(wallSilent, 1, 2, 3)}},
	}
}

// recurs has an event tell that it comes and goes; swings: on both sides.
func recurs(swings bool) func(*episode.Told) {
	return func(t *episode.Told) {
		t.Stage, t.Swings = episode.ComesAndGoes, swings
		t.Course = episode.Course{Times: 5, Since: ago(8 * time.Hour), Known: true, Lowest: 20.9, Highest: 25.9}
	}
}

type sample struct {
	events []alert.Event
	stage  func(*episode.Told) // nil: the events are of no episode
	facts  func(*notice.Facts) // nil: the house as it is
}

func (x sample) compose() []alert.Message {
	f := house()
	if x.facts != nil {
		x.facts(&f)
	}
	told := alone(x.events)
	for i := range told {
		if x.stage != nil {
			x.stage(&told[i])
		}
	}
	return notice.Compose(told, f, reader)
}

// alone are events without an episode.
func alone(events []alert.Event) (told []episode.Told) {
	for _, e := range events {
		told = append(told, episode.Told{Event: e})
	}
	return told
}

// Each sample is one message, about its most urgent event, with the texts of the golden file.
func TestMessages(t *testing.T) {
	all := samples()
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(all)) {
		x := all[name]
		got := x.compose()
		if len(got) != 1 {
			t.Errorf("%s: %d messages, want one", name, len(got))
			continue
		}
		m := got[0]
		first := slices.MinFunc(x.events, func(a, b alert.Event) int { return strings.Compare(string(a.Key.Priority), string(b.Key.Priority)) })
		want := alert.Message{Alarm: first.Key.String(), At: noon, Priority: m.Priority, Over: first.To != alert.Active, Subject: m.Subject, Body: m.Body, Threads: m.Threads}
		if !reflect.DeepEqual(m, want) {
			t.Errorf("%s: message %+v, want %+v", name, m, want)
		}
		if !strings.HasPrefix(m.Body, strings.TrimSuffix(strings.TrimSuffix(m.Subject, ", and one more"), ", and 2 more")+"\n") {
			t.Errorf("%s: the body does not begin with the subject %q:\n%s", name, m.Subject, m.Body)
		}
		fmt.Fprintf(&b, "# %s\n%s\n%s\n", name, m.Subject, m.Body)
	}
	const golden = "testdata/messages.txt"
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	lines, wanted := strings.Split(b.String(), "\n"), strings.Split(string(want), "\n")
	for i := range min(len(lines), len(wanted)) {
		if lines[i] != wanted[i] {
			t.Fatalf("%s:%d: now %q, was %q; -update writes it again", golden, i+1, lines[i], wanted[i])
		}
	}
	if len(lines) != len(wanted) {
		t.Fatalf("%s has %d lines, now there are %d", golden, len(wanted), len(lines))
	}
}

// drying is a box that lost a share of its water as computed, and loses so many times the usual.
func drying(share, times float64) *snapshot.Drying {
	lastDay := 0.8 * times
	return &snapshot.Drying{Spans: 3, Since: ago(9 * 24 * time.Hour), Lost: ptr(7.0), LostLow: ptr(6.1), LostHigh: ptr(7.9), LostShare: &share, LastDay: &lastDay, Usual: 0.8, Times: &times}
}

// Every kind that can be raised has a sample.
func TestEveryKindHasASample(t *testing.T) {
	seen := map[alert.Kind]bool{
		alert.TemperatureHigh: true, alert.HumidityHigh: true, alert.HumidityRising: true, alert.DriftUp: true, // as their other side
		alert.Cumulative: true, alert.Late: true, // as the single event, and as the window
	}
	for _, x := range samples() {
		for _, e := range x.events {
			seen[e.Key.Kind] = true
		}
	}
	for _, k := range alert.Kinds() {
		if !seen[k] {
			t.Errorf("no sample has a message of %s", k)
		}
	}
}

// What shares a cause shares a message; the rest does not.
func TestCauses(t *testing.T) {
	warm := alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "incubator"}
	late := rules.Late("T1", "B2")
	late2 := rules.Late("S1", "B1")
	for name, c := range map[string]struct {
		events []alert.Event
		want   []alert.Key // whose messages they are
	}{
		"one zone, both priorities":     {[]alert.Event{raised(tooCold, 19, 22), raised(tooColdEggs, 19, 20)}, []alert.Key{tooColdEggs}},
		"two zones":                     {[]alert.Event{raised(tooCold, 19, 22), raised(warm, 19, 22)}, []alert.Key{tooCold, warm}},
		"one begins, the other ends":    {[]alert.Event{raised(tooCold, 19, 22), ended(tooColdEggs, 21, 20, 19)}, []alert.Key{tooCold, tooColdEggs}},
		"a drift and a fast change":     {[]alert.Event{raised(driftDown, 21, 20), raised(fast, 4, 3)}, []alert.Key{driftDown}},
		"silent probes of two zones":    {[]alert.Event{raised(airSilent, 2400, 600), raised(warmSilent, 2400, 600)}, []alert.Key{warmSilent}},
		"two clutches late":             {[]alert.Event{raised(late, 1, 1), raised(late2, 1, 1)}, []alert.Key{late}},
		"limits that go, of any kind":   {[]alert.Event{gone(ended(tooCold, 21, 22, 20)), gone(ended(disagree, 1, 2, 3))}, []alert.Key{tooCold}},
		"what only the station matters": {[]alert.Event{raised(clock, 1, 1), raised(restarted, 1, 1)}, []alert.Key{clock, restarted}},
	} {
		var got []alert.Key
		for _, m := range notice.Compose(alone(c.events), house(), reader) {
			k, err := alert.ParseKey(m.Alarm)
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, k)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: messages of %v, want of %v", name, got, c.want)
		}
	}
}

// The line of the day, by what stands and what is out of service.
func TestDailyReport(t *testing.T) {
	day := map[string][2]float64{"room": {21, 23}, "incubator": {27, 27}}
	low := alert.New(tooCold, alert.Limit{At: 22})
	low.True, low.Began = true, ago(time.Hour)
	hidden := low
	hidden.Hidden = true
	for name, c := range map[string]struct {
		standing []alert.Alarm
		out      []notice.OutOfService
		url      string
		day      map[string][2]float64
		want     []string
	}{
		"all well": {standing: []alert.Alarm{hidden}, day: day, url: "http://pi", want: []string{
			"● EGG ROOM all well", "Last day: room 21.0-23.0 °C; incubator 27.0 °C.", "2 of 3 probes answer.",
			"Next window: S1 (Sorrel) in B1, 5-13 Apr, likely 8 Apr.", "This comes once a day. If it does not, look at the station: http://pi", ""}},
		"a cold room": {standing: []alert.Alarm{low}, want: []string{
			"◆ EGG ROOM 1 alarm stands", "Room too cold since 11:00.", "Last day: room nothing measured; incubator nothing measured.", "2 of 3 probes answer.",
			"Next window: S1 (Sorrel) in B1, 5-13 Apr, likely 8 Apr.", "This comes once a day. If it does not, look at the station", ""}},
		"a zone switched off": {out: []notice.OutOfService{{Zone: "room", Since: ago(time.Hour), Whole: true}}, day: day, want: []string{
			"◆ EGG ROOM switched off: room", "Since 11:00 nobody is called about room.", "Last day: room 21.0-23.0 °C; incubator 27.0 °C.", "2 of 3 probes answer.",
			"Next window: S1 (Sorrel) in B1, 5-13 Apr, likely 8 Apr.", "This comes once a day. If it does not, look at the station", ""}},
	} {
		f := house()
		f.OutOfService, f.URL = c.out, c.url
		subject, body := notice.DailyReport(f, c.standing, c.day, reader)
		if got := strings.Split(body, "\n"); subject != c.want[0] || !slices.Equal(got, c.want) {
			t.Errorf("%s: subject %q, body %q, want %q", name, subject, got, c.want)
		}
	}
}
