package published

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertlog"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/husbandry"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/track"
	"github.com/google/go-cmp/cmp"
)

var at = time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)

func ptr[T any](v T) *T { return &v }

// A kind without a unit has no figures. An alarm of a probe names that probe, another the
// one whose value it took.
func TestEvent(t *testing.T) {
	for name, c := range map[string]struct {
		key          alert.Key
		probe        string
		value, limit *float64
		unit         *string
	}{
		"temperature": {alert.Key{Kind: alert.TemperatureHigh, Zone: "room"}, "shelf", ptr(25.5), ptr(24.5), ptr("celsius")},
		"condition":   {alert.Key{Kind: alert.StorageFailing}, "shelf", nil, nil, nil},
		"of a probe":  {alert.Key{Kind: alert.ProbeSilent, Probe: "door"}, "door", ptr(25.5), ptr(24.5), ptr("seconds")},
	} {
		got := Event(alert.Event{At: at, Key: c.key, From: alert.Normal, To: alert.Active, Value: 25.5, Limit: 24.5}, "room", "shelf")
		want := snapshot.Event{At: at, Alarm: string(c.key.Kind), Zone: ptr("room"), Probe: ptr(c.probe), From: "normal", To: "active",
			Value: c.value, Limit: c.limit, Unit: c.unit}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// An alarm is pending while its on-delay runs: not before its value is past the limit, and
// not once it is raised or out of service.
func TestPending(t *testing.T) {
	warm := alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Critical, Zone: "room"}
	p := panel.New(nil, time.Minute)
	p.Step(at)
	limits := map[alert.Key]alert.Limit{warm: {High: true, At: 24.5, OnDelay: 10 * time.Minute}}
	places := panel.Places{Zones: []string{"room"}}
	p.Want(limits, places, "")
	steps := []struct {
		after   time.Duration
		celsius float64
		pending bool
	}{{0, 24, false}, {time.Minute, 25.5, true}, {10 * time.Minute, 25.6, true}, {11 * time.Minute, 25.7, false}}
	for _, x := range steps {
		p.Step(at.Add(x.after))
		p.Show(warm, panel.Reading{Value: x.celsius, Known: true, Probe: "shelf"})
		want := []snapshot.PendingAlarm{}
		if x.pending {
			want = append(want, snapshot.PendingAlarm{
				Key: warm.String(), Alarm: "temperature-high", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room"), Probe: ptr("shelf")}, Priority: "critical",
				Since: at.Add(time.Minute), RaisedAt: at.Add(11 * time.Minute), Value: ptr(x.celsius), Limit: ptr(24.5), Unit: ptr("celsius"),
			})
		}
		if diff := cmp.Diff(want, Pending(p)); diff != "" {
			t.Errorf("after %s (-want +got):\n%s", x.after, diff)
		}
	}
	q := panel.New(nil, time.Minute)
	q.Step(at)
	q.Want(limits, places, "")
	q.Show(warm, panel.Reading{Value: 25.5, Known: true})
	if err := q.Act(panel.Action{Do: panel.TakeOut, Zone: "room"}); err != nil {
		t.Fatal(err)
	}
	if got := Pending(q); len(got) > 0 {
		t.Errorf("out of service, pending is %+v", got)
	}
}

// An alarm that is normal is known and not shown; the daily report is neither.
func TestAlarms(t *testing.T) {
	warm, cold := alert.Key{Kind: alert.TemperatureHigh, Zone: "room"}, alert.Key{Kind: alert.TemperatureLow, Zone: "room"}
	p := panel.New(nil, time.Minute)
	p.Step(at)
	p.Want(map[alert.Key]alert.Limit{warm: {High: true, At: 24.5}, cold: {At: 20}, {Kind: alert.AllWell}: {High: true, At: 1}}, panel.Places{Zones: []string{"room"}}, "")
	p.Show(warm, panel.Reading{Value: 25.5, Known: true, Probe: "shelf"})
	p.Show(cold, panel.Reading{Value: 25.5, Known: true, Probe: "shelf"})
	details := 0
	known, all := Alarms(p, at, func(alert.Alarm, *snapshot.Alarm) { details++ })
	if len(known) != 2 || len(all) != 1 || details != 1 {
		t.Fatalf("%d are known, %d shown, %d completed; want 2, 1 and 1", len(known), len(all), details)
	}
	a := all[0]
	if a.Key != warm.String() || a.State != "active" || *a.Zone != "room" || *a.Probe != "shelf" || *a.Value != 25.5 || *a.Limit != 24.5 || !a.Stands || a.Seen || !a.Since.Equal(at) {
		t.Errorf("%+v", a)
	}
}

func TestPastAlarm(t *testing.T) {
	x := alertlog.Occurrence{Key: alert.Key{Kind: alert.TemperatureHigh}, Began: at, Raised: at, Limit: ptr(24.5), Peak: ptr(26.0)}
	if v := PastAlarm(x); v.Seen != nil || v.Ended != nil || *v.Limit != 24.5 || *v.Peak != 26 {
		t.Errorf("one that lasts: %+v", v)
	}
	x.Seen, x.Ended, x.Key.Kind = at.Add(time.Minute), at.Add(time.Hour), alert.StorageFailing
	if v := PastAlarm(x); !v.Seen.Equal(x.Seen) || !v.Ended.Equal(x.Ended) || v.Limit != nil || v.Peak != nil {
		t.Errorf("a condition that is over: %+v", v)
	}
}

func TestComing(t *testing.T) {
	p := alert.Projection{At: at.Add(time.Hour), Earliest: at, Limit: 26}
	if c := Coming(p); c.Latest != nil || c.Limit != 26 || !c.About.Equal(p.At) || !c.Earliest.Equal(at) {
		t.Errorf("without a latest time: %+v", c)
	}
	p.Latest = at.Add(2 * time.Hour)
	if c := Coming(p); c.Latest == nil || !c.Latest.Equal(p.Latest) {
		t.Errorf("latest %v", c.Latest)
	}
}

// Of a box whose water is not known the reason is published, and no figure.
func TestMedium(t *testing.T) {
	b := book.Box{Filling: book.Filling{Medium: "vermiculite", DryG: ptr(40.0), WaterG: ptr(32.0), TotalG: ptr(104.0)}}
	care := husbandry.BoxCare{Box: b, Water: husbandry.Water{Add: 9, Low: 8, High: 10, Ratio: 0.575, PerDay: math.NaN()}, NextWeighing: at}
	m := Medium(care)
	if *m.Add != 9 || *m.AddLow != 8 || *m.AddHigh != 10 || *m.Lost != 0.25 || *m.WantedRatio != 0.8 || m.PerDay != nil || !m.WeighNext.Equal(at) || m.Unknown != nil {
		t.Errorf("known: %+v", m)
	}
	care.Unknown, care.NextWeighing = errors.New("never weighed"), time.Time{}
	if m := Medium(care); m.Add != nil || m.Lost != nil || m.WeighNext != nil || *m.Unknown != "never weighed" || *m.Dry != 40 {
		t.Errorf("unknown: %+v", m)
	}
}

// A window that does not exist is not published, another in UTC and whole seconds.
func TestWindow(t *testing.T) {
	if Window(nil) != nil || Window(&thermal.Window{None: thermal.TooColdReason}) != nil {
		t.Error("a window that does not exist is published")
	}
	local := at.Add(300 * time.Millisecond).In(time.FixedZone("", 7200))
	want := snapshot.Window{CheckFrom: at, Likely: at.Add(time.Hour), LateAfter: at.Add(2 * time.Hour), Late: true}
	got := Window(&thermal.Window{CheckFrom: local, Likely: local.Add(time.Hour), LateAfter: local.Add(2 * time.Hour), Late: true})
	if got == nil || *got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// An egg is unplaced while it waits and was never in a box.
func TestUnplaced(t *testing.T) {
	var b book.Book
	d, err := book.ReadDraft(strings.NewReader(`{"key":"d","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Sorrel"}
{"key":"b","at":"2026-04-01T08:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"c","at":"2026-04-20T08:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":3,"laid_after":"2026-04-19T08:00:00Z","laid_by":"2026-04-20T08:00:00Z"}
{"key":"p","at":"2026-04-20T08:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"l","at":"2026-04-21T08:00:00Z","entry":"lost","egg":"S1-2"}`))
	if err != nil {
		t.Fatal(err)
	}
	p, err := b.Prepare(d)
	if err != nil {
		t.Fatal(err)
	}
	b = p.Stored(nil)
	all := Unplaced(b)
	if len(all) != 1 || all[0].Clutch != "S1" || *all[0].Dam != "Sorrel" || !cmp.Equal(all[0].Eggs, []snapshot.Egg{{Egg: "S1-3", Fate: "waiting"}}) {
		t.Errorf("%+v", all)
	}
}

// An alarm whose value is back within its limit is published with its end; one whose value
// is past the limit or missing is not.
func TestRecovery(t *testing.T) {
	cold := alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}
	p := panel.New(nil, time.Minute)
	p.Step(at)
	p.Want(map[alert.Key]alert.Limit{cold: {At: 20, Deadband: 0.5, OffDelay: 10 * time.Minute}}, panel.Places{Zones: []string{"room"}}, "")
	since, ends := at.Add(3*time.Minute), at.Add(13*time.Minute)
	for i, x := range []struct {
		celsius float64
		known   bool
		want    *snapshot.Recovery
	}{
		{19, true, nil},
		{19.5, true, nil},
		{20.2, true, &snapshot.Recovery{Threshold: ptr(20.5)}},
		{30, true, &snapshot.Recovery{Since: &since, EndsAt: &ends, Threshold: ptr(20.5)}},
		{0, false, nil},
	} {
		p.Step(at.Add(time.Duration(i) * time.Minute))
		p.Show(cold, panel.Reading{Value: x.celsius, Known: x.known})
		_, all := Alarms(p, at, func(alert.Alarm, *snapshot.Alarm) {})
		if len(all) != 1 {
			t.Fatalf("step %d: %d alarms", i, len(all))
		}
		if diff := cmp.Diff(x.want, all[0].Recovery); diff != "" {
			t.Errorf("step %d (-want +got):\n%s", i, diff)
		}
	}
}

// A clutch that waits for nothing has no window, and no reasons for one.
func TestBecauseOfAFinishedClutch(t *testing.T) {
	for _, waiting := range []bool{true, false} {
		g := &track.Group{Clutch: "S1", Waiting: waiting}
		c := Forecast(Clutch(g, nil), g, forecast.Hatch{Because: []string{"any day now, or not at all"}})
		if (len(c.Because) > 0) != waiting {
			t.Errorf("waiting %v: %q", waiting, c.Because)
		}
	}
}
