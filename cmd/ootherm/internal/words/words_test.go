package words

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

func ptr[T any](v T) *T { return &v }

type said struct{ name, got, want string }

func check(t *testing.T, cases []said) {
	t.Helper()
	for _, c := range cases {
		if c.got != c.want {
			t.Errorf("%s: said %q, want %q", c.name, c.got, c.want)
		}
	}
}

func TestFigures(t *testing.T) {
	f, c := Reader{Units: Fahrenheit}, Reader{Units: Celsius}
	nan, inf := math.NaN(), math.Inf(1)
	check(t, []said{
		{"a reading", f.Temperature(25.7778), "78.4 °F"},
		{"the same in Celsius", c.Temperature(25.7778), "25.8 °C"},
		{"the zero reader", Reader{}.Temperature(20), "20.0 °C"},
		{"freezing", f.Temperature(0), "32.0 °F"},
		{"below zero", c.Temperature(-3.25), "−3.2 °C"},
		{"a rounded negative zero", c.Temperature(-0.04), "0.0 °C"},
		{"no number", c.Temperature(nan), "unknown"},
		{"infinity", f.Temperature(inf), "unknown"},
		{"a difference is scaled and not shifted", f.Difference(0.27778), "0.5 °F"},
		{"a negative difference", f.Difference(-1), "−1.8 °F"},
		{"a difference in Celsius", c.Difference(0.5), "0.5 °C"},
		{"a slope", f.PerHour(1.1667), "2.1 °F per hour"},
		{"no slope", f.PerHour(nan), "unknown"},
		{"rising", f.Trend(1.1667), "rising 2.1 °F per hour"},
		{"falling says no minus", c.Trend(-1.5), "falling 1.5 °C per hour"},
		{"within the noise", c.Trend(0.05), "steady"},
		{"no trend", c.Trend(nan), "no trend yet"},
		{"a band", f.Band(ptr(22.2222), ptr(24.4444)), "72.0-76.0 °F"},
		{"a band with a low end alone", c.Band(ptr(22.0), nil), "above 22.0 °C"},
		{"a band with a high end alone", c.Band(nil, ptr(24.0)), "below 24.0 °C"},
		{"no band", c.Band(nil, nil), ""},
		{"a band below zero", c.Band(ptr(-4.0), ptr(-2.0)), "−4.0 to −2.0 °C"},
		{"humidity", c.Humidity(0.523), "52 %"},
		{"a wet box", c.Humidity(0.97), "97 %, saturated"},
		{"no humidity", c.Humidity(nan), "unknown"},
		{"a humidity band", c.HumidityBand(ptr(0.45), ptr(0.7)), "45-70 %"},
		{"no humidity band", c.HumidityBand(nil, nil), ""},
		{"developed", c.Developed(0.62), "62 % of the way"},
		{"developed is not rounded up", c.Developed(0.996), "99 % of the way"},
		{"a share that binary holds short", c.Developed(0.29), "29 % of the way"},
		{"past the middle guess", c.Developed(1.04), "104 % of the way"},
		{"observed", c.Observed(0.96), "measured 96 % of the time"},
		{"urgency, on its way", Urgency(snapshot.Alarm{Priority: "warning", AlarmOutlook: snapshot.AlarmOutlook{Coming: &snapshot.Coming{}}}), "warning: look soon"},
		{"urgency, critical", Urgency(snapshot.Alarm{Priority: "critical", AlarmOutlook: snapshot.AlarmOutlook{Coming: &snapshot.Coming{}}}), "critical: go now"},
		{"urgency, no more", Urgency(snapshot.Alarm{Priority: "warning"}), "warning: look today"},
		{"observed, hardly any", c.Observed(0.0001), "measured under 1 % of the time"},
		{"observed, nearly all", c.Observed(0.9999), "measured 99 % of the time"},
		{"observed, no number", c.Observed(nan), "measured an unknown share of the time"},
		{"degree-days", c.DegreeDays(540.4, 878.2, 14.2), "540 of 878 °C days above 14.2 °C"},
		{"degree-days that are passed", c.DegreeDays(600.2, 571.4, 14.2), "the 571 °C days above 14.2 °C that it needs are passed by 29"},
		{"degree-days just had", c.DegreeDays(571.4, 571.2, 14.2), "571 of 571 °C days above 14.2 °C"},
		{"degree-days are scaled with their base", f.DegreeDays(540, 878, 14.2), "972 of 1580 °F days above 57.6 °F"},
		{"one", Count(1, "egg", "eggs"), "1 egg"},
		{"none", Count(0, "egg", "eggs"), "0 eggs"},
	})
}

func TestTimes(t *testing.T) {
	east := time.FixedZone("east", 10*3600)
	r := Reader{Place: east}
	at := time.Date(2026, 6, 1, 20, 30, 0, 0, time.UTC) // 2 June 06:30 there
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 9, 0, 0, 0, east) }
	window := func(from, likely, late time.Time) string {
		return r.Window(snapshot.Window{CheckFrom: from, Likely: likely, LateAfter: late})
	}
	check(t, []said{
		{"time of day where the station is", r.Clock(at), "06:30"},
		{"no place is UTC", Reader{}.Clock(at), "20:30"},
		{"the day where the station is", r.Date(at), "2 June"},
		{"when, the same day", r.When(at, at.Add(2*time.Hour)), "06:30"},
		{"when, another day", r.When(at, at.AddDate(0, 0, 1)), "2 June 06:30"},
		{"between, within today", r.Between(at, at.Add(2*time.Hour), at.Add(3*time.Hour)), "06:30 to 08:30"},
		{"between, up to now", r.Between(at, at.AddDate(0, 0, 1), at.AddDate(0, 0, 1)), "2 June 06:30 to 3 June 06:30"},
		{"between, within another day", r.Between(at, at.Add(2*time.Hour), at.AddDate(0, 0, 9)), "2 June 06:30 to 08:30"},
		{"when, another year", r.When(at, at.AddDate(1, 0, 0)), "2 June 2026 06:30"},
		{"window", window(day(2026, 6, 12), day(2026, 6, 16), day(2026, 6, 20)), "12-20 Jun, likely 16 Jun"},
		{"window over two months", window(day(2026, 5, 28), day(2026, 6, 2), day(2026, 6, 6)), "28 May to 6 Jun, likely 2 Jun"},
		{"window over two years", window(day(2026, 12, 28), day(2026, 12, 31), day(2027, 1, 4)), "28 Dec to 4 Jan, likely 31 Dec"},
		{"window of a day", window(day(2026, 6, 12), day(2026, 6, 12), day(2026, 6, 12)), "12 Jun"},
		{"window past", r.Window(snapshot.Window{LateAfter: day(2026, 6, 20), Late: true}), "late: was expected by 20 June"},
		{"laid", r.Laid(snapshot.Laid{Earliest: day(2026, 4, 1), Latest: day(2026, 4, 2)}), "laid 1-2 Apr"},
		{"laid on a known day", r.Laid(snapshot.Laid{Earliest: day(2026, 4, 1), Latest: day(2026, 4, 1)}), "laid 1 Apr"},
	})
	in := func(y int) Reader {
		return Reader{Place: east, Today: func() time.Time { return day(y, 7, 1) }}
	}
	check(t, []said{
		{"a day of this year", in(2026).Date(at), "2 June"},
		{"a day of another year", in(2027).Date(at), "2 June 2026"},
		{"a range that ends in the next year", in(2026).Days(day(2026, 12, 24), day(2027, 2, 13)), "24 Dec to 13 Feb"},
		{"a range that began last year", in(2027).Days(day(2026, 12, 24), day(2027, 2, 13)), "24 Dec to 13 Feb"},
		{"a range of two other years", in(2030).Days(day(2026, 12, 24), day(2027, 2, 13)), "24 Dec 2026 to 13 Feb 2027"},
		{"a range of another year", in(2027).Days(day(2026, 5, 28), day(2026, 6, 6)), "28 May to 6 Jun 2026"},
		{"days of one month of another year", in(2027).Days(day(2026, 6, 12), day(2026, 6, 20)), "12-20 Jun 2026"},
		{"a day of another year as a range", in(2027).Days(day(2026, 6, 12), day(2026, 6, 12)), "12 Jun 2026"},
	})
	late := at.Add(30 * time.Minute)
	check(t, []said{
		{"what comes", r.Coming(snapshot.Coming{Limit: 20, About: at, Earliest: at.Add(-20 * time.Minute), Latest: &late}, at.Add(-time.Hour)), "20.0 °C about 06:30 (06:10-07:00), in 1 h"},
		{"what may not come", r.Coming(snapshot.Coming{Limit: 20, About: at, Earliest: at.Add(-20 * time.Minute)}, at.Add(-time.Hour)), "20.0 °C about 06:30 (not before 06:10, perhaps not at all)"},
		{"what should be here", r.Coming(snapshot.Coming{Limit: 20, About: at, Earliest: at.Add(-20 * time.Minute), Latest: &late}, at.Add(time.Minute)), "20.0 °C about 06:30 (06:10-07:00)"},
	})
	for _, c := range []struct {
		d    time.Duration
		want string
	}{
		{-time.Second, "0 s"}, {0, "0 s"}, {40 * time.Second, "40 s"}, {59*time.Second + 600*time.Millisecond, "1 min"},
		{22 * time.Minute, "22 min"}, {59*time.Minute + 40*time.Second, "1 h"},
		{3*time.Hour + 10*time.Minute, "3 h 10 min"}, {23*time.Hour + 59*time.Minute + 40*time.Second, "1 d"},
		{27 * time.Hour, "1 d 3 h"}, {47*time.Hour + 50*time.Minute, "2 d"}, {48 * time.Hour, "2 d"}, {12*24*time.Hour + 13*time.Hour, "13 d"},
	} {
		if got := Span(c.d); got != c.want {
			t.Errorf("a span of %v: said %q, want %q", c.d, got, c.want)
		}
	}
	check(t, []said{
		{"ago", Ago(22 * time.Minute), "22 min ago"},
		{"a moment ago", Ago(300 * time.Millisecond), "just now"},
		{"ahead, after the clock was set", Ago(-time.Hour), "just now"},
		{"seconds", Span(Seconds(95)), "2 min"},
		{"seconds that are no number", Span(Seconds(math.NaN())), "0 s"},
		{"seconds beyond a span", Span(Seconds(1e300)), "106751 d"},
	})
}

func TestStates(t *testing.T) {
	r := Reader{Place: time.UTC}
	at := time.Date(2026, 6, 1, 20, 0, 0, 0, time.UTC)
	eight := time.Date(2026, 6, 1, 22, 15, 0, 0, time.UTC)
	check(t, []said{
		{"active", r.State("active", time.Time{}, at), "not yet seen"},
		{"acknowledged", r.State("acknowledged", time.Time{}, at), "seen"},
		{"returned", r.State("returned", time.Time{}, at), "over, not yet seen"},
		{"shelved", r.State("shelved", eight, at), "quiet until 22:15"},
		{"shelved, no end known", r.State("shelved", time.Time{}, at), "quiet for a while"},
		{"suppressed", r.State("suppressed", time.Time{}, at), "part of a wider alarm"},
		{"out of service", r.State("out-of-service", time.Time{}, at), "switched off for work"},
		{"normal", r.State("normal", time.Time{}, at), "in order"},
		{"a state not known", r.State("odd", time.Time{}, at), "odd"},
		{"a probe in order", Probe(snapshot.Probe{Status: "ok"}), "ok"},
		{"a probe not believed", Probe(snapshot.Probe{Status: "suspect", Cause: ptr("stuck")}), "not believed: the same figure for too long"},
		{"a probe silent", Probe(snapshot.Probe{Status: "stale", Cause: ptr("no-answer")}), "silent: it does not answer"},
		{"a probe that never answered", Probe(snapshot.Probe{Status: "missing"}), "never answered"},
		{"a probe gone", Probe(snapshot.Probe{Status: "missing", LastGood: &at}), "gone"},
		{"a probe at odds", Probe(snapshot.Probe{Status: "suspect", Cause: ptr("disagrees")}), "not believed: it disagrees with its neighbours"},
		{"a cause not known", Cause("heater-on"), "heater on"},
		{"a priority not known", Priority("odd"), "odd"},
		{"fate", Fate("waiting"), "waiting"},
		{"no fate", Fate(""), "unknown"},
		{"an alarm of a zone", Place(snapshot.AlarmPlace{Zone: ptr("room")}), "room"},
		{"an alarm of a box", Place(snapshot.AlarmPlace{Zone: ptr("room"), Box: ptr("B1"), Probe: ptr("p")}), "box B1, probe p"},
		{"an alarm of a probe", Place(snapshot.AlarmPlace{Probe: ptr("p")}), "probe p"},
		{"an alarm of the station", Place(snapshot.AlarmPlace{}), "the station"},
		{"an alarm's temperature", r.Value(Temperature, ptr(25.0)), "25.0 °C"},
		{"an alarm's humidity", r.Value(Humidity, ptr(0.4)), "40 %"},
		{"an alarm's distance is scaled and not shifted", Reader{Units: Fahrenheit}.Value(Distance, ptr(1.0)), "1.8 °F"},
		{"an alarm's slope", r.Value(Slope, ptr(2.0)), "2.0 °C per hour"},
		{"an alarm's age", r.Value(Age, ptr(600.0)), "10 min"},
		{"an alarm's figure of nothing", r.Value(Nothing, ptr(600.0)), ""},
		{"an alarm without a figure", r.Value(Temperature, nil), ""},
	})
	known := map[string]AlarmText{
		"temperature-high":  {Shape: Warm, Wrong: "too warm", Quantity: Temperature},
		"temperature-low":   {Shape: Cold, Wrong: "too cold", Quantity: Temperature},
		"drift-up":          {Shape: Warm, Wrong: "getting too warm", Quantity: Temperature},
		"drift-down":        {Shape: Cold, Wrong: "getting too cold", Quantity: Temperature},
		"single-event":      {Shape: Other, Wrong: "out of band too long at a stretch", Quantity: Age},
		"cumulative":        {Shape: Other, Wrong: "out of band too long in all", Quantity: Age},
		"rate-of-change":    {Shape: Other, Wrong: "changing too fast", Quantity: Slope},
		"humidity-low":      {Shape: Other, Wrong: "too dry", Quantity: Humidity},
		"humidity-high":     {Shape: Other, Wrong: "too damp", Quantity: Humidity},
		"humidity-falling":  {Shape: Other, Wrong: "getting too dry"},
		"humidity-rising":   {Shape: Other, Wrong: "getting too damp"},
		"drying":            {Shape: Other, Wrong: "drying out"},
		"probe-silent":      {Shape: Silent, Wrong: "probe silent", Quantity: Age},
		"humidity-silent":   {Shape: Silent, Wrong: "gives no humidity"},
		"bus-silent":        {Shape: Silent, Wrong: "all probes of one bus silent", Quantity: Age},
		"probes-disagree":   {Shape: Other, Wrong: "probes disagree", Quantity: Distance},
		"clock-unverified":  {Shape: Other, Wrong: "time of day not known"},
		"storage-failing":   {Shape: Other, Wrong: "readings not saved"},
		"sender-failing":    {Shape: Other, Wrong: "messages do not get out"},
		"heartbeat-failing": {Shape: Other, Wrong: "heartbeat does not get out"},
		"history-damaged":   {Shape: Other, Wrong: "some stored readings are damaged"},
		"station-restarted": {Shape: Other, Wrong: "station restarted"},
		"window-opening":    {Shape: Other, Wrong: "check daily"},
		"hatching":          {Shape: Other, Wrong: "hatching"},
		"late":              {Shape: Other, Wrong: "late"},
		"switched-off":      {Shape: Other, Wrong: "switched off for work", Quantity: Age},
		"copy-failing":      {Shape: Other, Wrong: "the book is not copied"},
		"odd-one-out":       {Shape: Other, Wrong: "odd one out"},
	}
	for kind, want := range known {
		got := Alarm(kind)
		if got.First == "" {
			t.Errorf("alarm %q: says nothing to do first", kind)
		}
		if got.First = ""; got != want {
			t.Errorf("alarm %q: said %+v, want %+v", kind, got, want)
		}
	}
	for _, k := range alert.Kinds() {
		if _, tested := known[string(k)]; !tested {
			t.Errorf("alarm %q: no row above holds its words", k)
		}
		if Alarm(string(k)).First == firstOther {
			t.Errorf("alarm %q: no words of its own", k)
		}
		quantities := map[alert.Unit][]Quantity{
			alert.None: {Nothing}, alert.Celsius: {Temperature, Distance}, alert.Ratio: {Humidity},
			alert.Seconds: {Age}, alert.CelsiusPerHour: {Slope},
		}
		if q := Alarm(string(k)).Quantity; !slices.Contains(quantities[k.Unit()], q) {
			t.Errorf("alarm %q is measured in %q and its value is worded as quantity %v", k, k.Unit(), q)
		}
	}
}

// No text for a reader contains internal words.
func TestNoInternalWords(t *testing.T) {
	r := Reader{}
	var all []string
	for _, s := range []string{"active", "acknowledged", "returned", "shelved", "suppressed", "out-of-service", "normal"} {
		all = append(all, r.State(s, time.Time{}, time.Time{}))
	}
	for _, s := range []string{"ok", "suspect", "stale", "missing"} {
		all = append(all, Probe(snapshot.Probe{Status: s}))
	}
	for _, s := range []string{"critical", "warning", "notice"} {
		all = append(all, Priority(s))
	}
	for _, k := range append(alert.Kinds(), "other") {
		s := string(k)
		all = append(all, Alarm(s).Wrong, Alarm(s).First)
	}
	all = append(all, r.Developed(.5), r.Observed(.5), r.Window(snapshot.Window{}), r.DegreeDays(1, 2, 3))
	text := strings.ToLower(strings.Join(all, "\n"))
	for _, bad := range []string{"belief", "t*", "iio", "wilson", "chattering", "shelve", "out of service", "outbox", "observed", "acknowledge", "suppress", "stale"} {
		if strings.Contains(text, bad) {
			t.Errorf("the reader is shown %q in:\n%s", bad, text)
		}
	}
}

func TestDiffer(t *testing.T) {
	day := time.Date(2026, 6, 9, 12, 0, 0, 0, time.UTC)
	likely := func(days float64) *snapshot.Window {
		return &snapshot.Window{Likely: day.Add(time.Duration(days * 24 * float64(time.Hour)))}
	}
	late := &snapshot.Window{Late: true}
	for want, w := range map[string][2]*snapshot.Window{
		"Plain degree-days say the same within a day.":   {likely(0), likely(0.4)},
		"Plain degree-days say 3 days later.":            {likely(0), likely(3.2)},
		"Plain degree-days say 1 day sooner.":            {likely(0), likely(-1)},
		"By plain degree-days it would be late by now.":  {likely(0), late},
		"By plain degree-days it would not be late yet.": {late, likely(0)},
	} {
		if got := Differ(w[0], w[1]); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for _, w := range [][2]*snapshot.Window{{nil, late}, {late, nil}, {late, late}} {
		if got := Differ(w[0], w[1]); got != "" {
			t.Errorf("%q where nothing can be said", got)
		}
	}
}

func TestOnOrAt(t *testing.T) {
	from := time.Date(2026, 11, 30, 10, 0, 0, 0, time.UTC)
	for want, at := range map[string]time.Time{
		"at 09:05":                   from.Add(-55 * time.Minute),
		"on 29 November, 10:00":      from.AddDate(0, 0, -1),
		"on 30 November 2025, 10:00": from.AddDate(-1, 0, 0),
	} {
		if got := OnOrAt(Reader{}, at, from); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
