package web

import (
	"context"
	"fmt"
	"iter"
	"math"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

var at = time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)

// The addresses of a box and of a clutch.
var boxHref, clutchHref = page.BoxHref, page.ClutchHref

func ptr[T any](v T) *T { return &v }

type fixed struct{ now *snapshot.Snapshot }

func (f fixed) Now() *snapshot.Snapshot { return f.now }

// past makes up readings: a gentle day with a rise at its end and a hole.
type past struct {
	every time.Duration
	fail  error // instead of the first reading
	calls *int
}

func (p past) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return p.Readings(ctx, probe, from, to)
}

// Hourly makes up hours: a gentle swing each day.
func (p past) Hourly(_ context.Context, probe string, from, to time.Time) iter.Seq2[page.Hour, error] {
	return func(yield func(page.Hour, error) bool) {
		if p.fail != nil {
			yield(page.Hour{}, p.fail)
			return
		}
		if first := at.AddDate(-2, 0, 0); from.Before(first) { // there are none before
			from = first
		}
		for t := from.Truncate(time.Hour); t.Before(to) && probe != "door"; t = t.Add(time.Hour) {
			mean := 23.2 + 0.8*math.Sin(float64(t.Hour())/24*2*math.Pi)
			if !yield(page.Hour{From: t, To: t.Add(time.Hour), Mean: mean, Least: mean - 0.3, Most: mean + 0.3, Humidity: 0.52}, nil) {
				return
			}
		}
	}
}

func (p past) Readings(_ context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return func(yield func(page.Point, error) bool) {
		if p.calls != nil {
			*p.calls++
		}
		if p.fail != nil {
			yield(page.Point{At: from, Celsius: math.NaN(), Humidity: math.NaN()}, p.fail)
			return
		}
		shift := float64(len(probe)%3) * 0.3
		for t := from; t.Before(to); t = t.Add(p.every) {
			h := to.Sub(t).Hours()
			if probe == "door" || h > 9 && h < 10.5 || t.After(at) {
				continue
			}
			q := page.Point{At: t, Celsius: 23.2 + shift + 0.8*math.Sin(h/24*2*math.Pi) + 2.6*math.Exp(-h*h/2), Humidity: 0.52}
			if probe == "one-wire" {
				q.Humidity = math.NaN()
			}
			if !yield(q, nil) {
				return
			}
		}
	}
}

func clutch(name, dam string, developed float64, from, likely, late int, fates ...string) snapshot.Clutch {
	c := snapshot.Clutch{Clutch: name, Dam: ptr(dam), Profile: ptr("crested gecko"),
		Laid:      snapshot.Laid{Earliest: at.AddDate(0, 0, -61), Latest: at.AddDate(0, 0, -60)},
		Developed: ptr(developed), Observed: ptr(0.96),
		Heat:       snapshot.Heat{DegreeDays: &snapshot.DegreeDays{Base: 14.2, SoFar: 878 * developed, Measured: 850 * developed, Required: 878}, EquivalentCelsius: ptr(23.4)},
		Window:     &snapshot.Window{CheckFrom: at.AddDate(0, 0, from), Likely: at.AddDate(0, 0, likely), LateAfter: at.AddDate(0, 0, late)},
		LineWindow: &snapshot.Window{CheckFrom: at.AddDate(0, 0, from+2), Likely: at.AddDate(0, 0, likely+3), LateAfter: at.AddDate(0, 0, late+3)},
		State:      ptr(snapshot.StateIncubating),
		Why: &snapshot.Why{Days: float64(late - from), Parts: []snapshot.WhyPart{
			{Cause: "eggs", Days: 0.4 * float64(late-from)}, {Cause: "probe", Days: 0.3 * float64(late-from)}, {Cause: "known", Days: 0.25 * float64(late-from)}, {Cause: "climate", Days: 0.05 * float64(late-from)},
		}, Remedy: &snapshot.WhyPart{Cause: "probe", Days: 0.2 * float64(late-from)}},
		Because: []string{"1 reference point for the kind, common practice", "3 hatches of your own", "measured 96 % of the time, 2 gaps bridged"}}
	for i, f := range fates {
		c.Eggs = append(c.Eggs, snapshot.Egg{Egg: fmt.Sprintf("%s-%d", name, i+1), Slot: ptr(string(rune('a' + i))), Fate: f})
	}
	return c
}

// in is a clutch in another state.
func in(state string, c snapshot.Clutch) snapshot.Clutch {
	c.State = &state
	if state == "" {
		c.State = nil
	}
	return c
}

func box(name, zone, probe string, clutches ...snapshot.Clutch) snapshot.Box {
	b := snapshot.Box{Box: name, Zone: zone, Clutches: clutches}
	if probe != "" {
		b.Probe = &probe
	}
	return b
}

func okProbe(name string, c, rh, age float64) snapshot.Probe {
	p := snapshot.Probe{Probe: name, Celsius: &c, Humidity: &rh, AgeSeconds: &age, Status: "ok", LastGood: ptr(at.Add(-time.Duration(age) * time.Second))}
	if rh == 0 {
		p.Humidity = nil
	}
	return p
}

// season is a station in mid-season on a bad afternoon.
func season() *snapshot.Snapshot {
	const w = "waiting"
	late := in(snapshot.StateLate, clutch("L1", "Lovage", 1.06, -12, -6, -1, w))
	late.Window.Late, late.LineWindow.Late = true, true
	young := in("", clutch("Y2", "Yarrow", 0.03, 60, 75, 95, w, w))
	young.Why, young.Window, young.LineWindow, young.Developed, young.Observed, young.DegreeDays = nil, nil, nil, nil, nil, nil
	young.Missing = []string{snapshot.MissingModel}
	young.Because = []string{"this kind has no reference point yet"}
	n := &snapshot.Snapshot{
		At:      at,
		Station: snapshot.Station{Name: "egg room", Version: "1.2.3", Clock: "synchronised", UptimeSeconds: 86400},
		Zones: []snapshot.Zone{
			{Zone: "incubator", Kind: "incubator", Celsius: ptr(23.6), Humidity: ptr(0.61), DewPoint: ptr(15.6), TrendPerHour: ptr(0.02), SetPoint: ptr(23.3),
				Wanted: snapshot.Band{Low: ptr(22.2222), High: ptr(24.4444)}, Safe: snapshot.Band{Low: ptr(20.0), High: ptr(26.6667)}, HumidityBand: snapshot.Ratios{Low: ptr(0.45), High: ptr(0.7)},
				Probes: []snapshot.Probe{okProbe("incubator-air", 23.6, 0.61, 4), {Probe: "door", Status: "missing", Cause: ptr("no-answer"), AgeSeconds: ptr(5400.0), LastGood: ptr(at.Add(-90 * time.Minute)), Errors: map[string]int{"no-answer": 540}}}},
			{Zone: "room", Kind: "room", Celsius: ptr(25.8), Humidity: ptr(0.52), DewPoint: ptr(15.2), Deficit: ptr(1594.0), Vapour: ptr(12.53), TrendPerHour: ptr(1.17), SetPoint: ptr(23.3), Spread: snapshot.Spread{SpreadK: ptr(0.8)},
				Wanted: snapshot.Band{Low: ptr(22.2222), High: ptr(24.4444)}, Safe: snapshot.Band{Low: ptr(20.0), High: ptr(26.6667)}, HumidityBand: snapshot.Ratios{Low: ptr(0.45), High: ptr(0.7)},
				Probes: []snapshot.Probe{okProbe("shelf", 25.9, 0.52, 3), okProbe("dummy-box", 25.7, 0.97, 3), okProbe("one-wire", 25.8, 0, 8),
					{Probe: "window-sill-beside-the-old-cupboard", Celsius: ptr(85.0), AgeSeconds: ptr(40.0), Status: "suspect", Cause: ptr("power-on"), LastGood: ptr(at.Add(-40 * time.Second))}}},
		},
		Boxes: []snapshot.Box{
			box("B1", "room", "dummy-box", clutch("S1", "Sorrel", 0.94, 3, 7, 11, w, w)),
			box("B2", "room", "", clutch("T1", "Tansy", 0.62, 28, 35, 44, w, "lost"), clutch("S2", "Sorrel", 0.41, 50, 58, 70, w, w)),
			box("B3", "room", "", late),
			box("B4", "incubator", "door", in(snapshot.StateCheckDaily, clutch("T2", "Tansy", 0.99, -2, 1, 6, w, w))),
			box("B5", "incubator", "incubator-air", clutch("Y1", "Yarrow", 0.71, 20, 26, 34, w, w)),
			box("B6", "room", "", young),
			box("B7", "room", "", clutch("M1", "Marjoram or Sorrel", 0.22, 70, 80, 96, w, w, w)),
			box("B8", "room", "", in("", clutch("H1", "Hyssop", 1, -9, -5, 1, "hatched", "hatched"))),
			box("a-box-with-a-name-far-longer-than-any-label-would-hold-0123456789", "incubator", ""),
		},
		Unplaced: []snapshot.Unplaced{{Clutch: "S3", Dam: ptr("Sorrel"), Laid: snapshot.Laid{Earliest: at.AddDate(0, 0, -2), Latest: at.AddDate(0, 0, -1)},
			Eggs: []snapshot.Egg{{Egg: "S3-1", Fate: w}, {Egg: "S3-2", Fate: w}}}},
		Dams: []snapshot.Dam{
			{Dam: "Sorrel", Profile: ptr("crested gecko"), Due: "look", LastLaid: &snapshot.Laid{Earliest: at.AddDate(0, 0, -31), Latest: at.AddDate(0, 0, -30)}, LastLook: ptr(at.AddDate(0, 0, -2)), Intervals: 3, IntervalDays: ptr(31.5),
				LookFrom: ptr(at.AddDate(0, 0, -8)), Earliest: ptr(at.AddDate(0, 0, -1)), Likely: ptr(at.AddDate(0, 0, 1)), Latest: ptr(at.AddDate(0, 0, 9)), Because: ptr("from her last clutch and 3 intervals of her own")},
			{Dam: "Tansy", Profile: ptr("crested gecko"), Due: "later", LastPaired: ptr(at.AddDate(0, 0, -10)),
				LookFrom: ptr(at.AddDate(0, 0, 8)), Earliest: ptr(at.AddDate(0, 0, 15)), Likely: ptr(at.AddDate(0, 0, 20)), Latest: ptr(at.AddDate(0, 0, 35)), Because: ptr("from her last pairing, by common practice")},
			{Dam: "Lovage", Due: "overdue", LastLaid: &snapshot.Laid{Earliest: at.AddDate(0, 0, -52), Latest: at.AddDate(0, 0, -51)},
				LookFrom: ptr(at.AddDate(0, 0, -34)), Earliest: ptr(at.AddDate(0, 0, -27)), Likely: ptr(at.AddDate(0, 0, -16)), Latest: ptr(at.AddDate(0, 0, -6)), Because: ptr("from her last clutch, by common practice")},
			{Dam: "Hyssop", Due: "unknown"},
		},
		Alarms: []snapshot.Alarm{
			{Key: "probe-silent.warning/incubator/probe:door", Alarm: "probe-silent", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("incubator"), Probe: ptr("door")}, Priority: "warning", State: "acknowledged", Since: at.Add(-85 * time.Minute), Value: ptr(5400.0), Limit: ptr(600.0)},
			{Key: "temperature-high.warning/room", Alarm: "temperature-high", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "warning", State: "active", Since: at.Add(-22 * time.Minute), Value: ptr(25.8), Limit: ptr(24.4444), Peak: ptr(25.9), Unit: ptr("celsius"), Stands: true,
				AlarmOutlook: snapshot.AlarmOutlook{Coming: &snapshot.Coming{Limit: 26.6667, About: at.Add(50 * time.Minute), Earliest: at.Add(30 * time.Minute), Latest: ptr(at.Add(80 * time.Minute))}}},
			{Key: "drift-up.warning/room", Alarm: "drift-up", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "warning", State: "returned", Since: at.Add(-55 * time.Minute), Value: ptr(24.1), Limit: ptr(24.4444)},
			{Key: "humidity-low.notice/incubator", Alarm: "humidity-low", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("incubator")}, Priority: "notice", State: "shelved", Since: at.Add(-3 * time.Hour), Value: ptr(0.43), Limit: ptr(0.45), Until: ptr(at.Add(40 * time.Minute)), Stands: true},
			{Key: "cumulative.critical/box:B2", Alarm: "cumulative", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room"), Box: ptr("B2")}, Priority: "critical", State: "acknowledged", Since: at.Add(-25 * time.Hour), Value: ptr(36600.0), Limit: ptr(36000.0), Unit: ptr("seconds"), Stands: true, Seen: true,
				Detail: ptr("B2 with T1 (Tansy), 1 egg, 62 % of the way: at or above 79.0 °F for 10 h 10 min in all.")},
		},
		Pending: []snapshot.PendingAlarm{
			{Key: "temperature-high.critical/room", Alarm: "temperature-high", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room"), Probe: ptr("shelf")}, Priority: "critical", Since: at.Add(-time.Minute), RaisedAt: at.Add(9 * time.Minute), Value: ptr(26.7), Limit: ptr(26.6667), Unit: ptr("celsius")},
		},
		Health: snapshot.Health{Flushed: ptr(at.Add(-2 * time.Minute)), Waiting: 1, OldestWaiting: ptr(at.Add(-20 * time.Minute)), Deliveries: []snapshot.Delivery{{Sender: "hook", Waiting: 1}}, StorageBytes: 1 << 20, Polled: true},
	}
	set := func(i int, m snapshot.Medium) {
		m.Medium, m.Dry, m.Water, m.Total, m.WantedRatio = ptr("vermiculite"), ptr(40.0), ptr(40.0), ptr(112.0), ptr(1.0)
		n.Boxes[i].Medium = &m
	}
	set(0, snapshot.Medium{Weighed: ptr(at.AddDate(0, 0, -3)), WeighNext: ptr(at.AddDate(0, 0, 4)), Add: ptr(9.0), AddLow: ptr(8.0), AddHigh: ptr(10.0), Ratio: ptr(0.775), PerDay: ptr(0.6), Lost: ptr(0.2), Drying: &snapshot.Drying{
		Loses: 0.018, LosesLow: 0.015, LosesHigh: 0.021, Spans: 4, Since: at.AddDate(0, 0, -3), Lost: ptr(1.9), LostLow: ptr(1.6), LostHigh: ptr(2.2), LostShare: ptr(0.25),
		Now: ptr(0.03), LastDay: ptr(0.7), Usual: 0.6, Times: ptr(1.17),
	}})
	set(1, snapshot.Medium{Weighed: ptr(at.AddDate(0, 0, -9)), WeighNext: ptr(at.AddDate(0, 0, -2)), Add: ptr(0.0), AddLow: ptr(0.0), AddHigh: ptr(0.0), Ratio: ptr(1.1), Lost: ptr(0.0), Warning: ptr("it is 4.0 g heavier than when set up: add nothing, and see whether water stands in it")})
	set(2, snapshot.Medium{WeighNext: ptr(at.AddDate(0, 0, 1)), Unknown: ptr("was not weighed since it was set up: weigh it")})
	return n
}

func options(n *snapshot.Snapshot) page.Options {
	return page.Options{Source: fixed{n}, Past: past{every: time.Minute}, Reader: words.Reader{Units: words.Fahrenheit, Place: time.UTC},
		URL: "http://eggroom.local:8080", Every: 10 * time.Second, Clock: func() time.Time { return at }}
}

func handler(t testing.TB, o page.Options) http.Handler {
	t.Helper()
	h, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func get(h http.Handler, target string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, target, nil)
	r.Host, r.RemoteAddr = "127.0.0.1:8080", "127.0.0.1:40000"
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// with adds a line to the header of a request.
func with(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(name, value) }
}

func here(r *http.Request) { r.Host, r.RemoteAddr = "127.0.0.1:8080", "127.0.0.1:40000" }
