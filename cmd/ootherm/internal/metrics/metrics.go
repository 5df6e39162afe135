// Package metrics exposes the published state to Prometheus. It reads the state once per
// scrape, so that all values of a scrape belong together. It must not keep state or compute
// values: a missing value is a missing series, never a zero.
package metrics

import (
	"math"
	"net/http"
	"runtime"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Source gives the published state, or nil before the station published any.
type Source interface{ Now() *snapshot.Snapshot }

// Attempt names what is counted of the deliveries: a sender and what an attempt came to
// (delivered, retry, refused or dropped).
type Attempt struct{ Sender, Result string }

// Attempts gives how many attempts there were since the start, also those that never were.
type Attempts func() map[Attempt]int

// Collector reads the state of a station once per scrape.
type Collector struct {
	source   Source
	attempts Attempts
	version  string
}

var _ prometheus.Collector = (*Collector)(nil)

// NewCollector makes a collector for the caller's registry.
func NewCollector(source Source, attempts Attempts, version string) *Collector {
	return &Collector{source: source, attempts: attempts, version: version}
}

// New makes the handler of /metrics with its own registry. It exposes the station's values
// and those of its process (memory, open files, processor time).
func New(source Source, attempts Attempts, version string) (http.Handler, error) {
	r := prometheus.NewRegistry()
	for _, c := range []prometheus.Collector{
		NewCollector(source, attempts, version),
		newProcess(),
	} {
		if err := r.Register(c); err != nil {
			return nil, err
		}
	}
	// An error in one value fails the whole scrape: half a scrape would look like a station
	// that lost its other half.
	return promhttp.HandlerFor(r, promhttp.HandlerOpts{ErrorHandling: promhttp.HTTPErrorOnError, MaxRequestsInFlight: 4}), nil
}

// metric describes one metric: its name, help, labels and kind.
type metric struct {
	desc *prometheus.Desc
	kind prometheus.ValueType
}

func gauge(name, help string, labels ...string) metric {
	return metric{prometheus.NewDesc("ootherm_"+name, help, labels, nil), prometheus.GaugeValue}
}

func counter(name, help string, labels ...string) metric {
	return metric{prometheus.NewDesc("ootherm_"+name, help, labels, nil), prometheus.CounterValue}
}

// metricSet holds every metric.
type metricSet struct {
	probe       probeMetrics
	zoneTrend   metric
	clutch      clutchMetrics
	alarmActive metric

	outbox, outboxOldest, attempts metric
	lastPoll, pollInterval         metric
	lastFlush, clock, storage      metric
	station, build                 metric
}

// probeMetrics are the metrics of one probe.
type probeMetrics struct{ temperature, humidity, success, up, errors metric }

// clutchMetrics are the metrics of one clutch in one box.
type clutchMetrics struct {
	info, developed, observed, days, required metric
	check, likely, late, state                metric
}

func metrics() metricSet {
	return metricSet{
		probe: probeMetrics{
			temperature: gauge("probe_temperature_celsius", "Last believed temperature of a probe. Absent once three polls were missed.", "probe", "zone"),
			humidity:    gauge("probe_humidity_ratio", "Last believed relative humidity of a probe, 0 to 1. Absent once three polls were missed.", "probe", "zone"),
			success:     gauge("probe_last_success_timestamp_seconds", "When a probe last gave a believed reading.", "probe", "zone"),
			up:          gauge("probe_up", "1 while a probe gives readings, also those that are not believed; 0 once three polls were missed.", "probe", "zone"),
			errors:      counter("probe_errors_total", "Readings of a probe that failed or were not believed since the start, by cause.", "probe", "cause"),
		},
		zoneTrend: gauge("zone_trend_celsius_per_hour", "Trend of a zone's temperature.", "zone"),

		clutch: clutchMetrics{
			info:      gauge("clutch_info", "A clutch with eggs in a box, its dam and its profile.", "clutch", "dam", "profile"),
			developed: gauge("clutch_developed_ratio", "Share of the development done, 1 at the likely hatch.", "box", "clutch"),
			observed:  gauge("clutch_observed_ratio", "Share of the time since laying that was measured.", "box", "clutch"),
			days:      gauge("clutch_degree_days", "Heat above the base so far in Celsius degree-days, the trade's unit and not a base unit.", "box", "clutch"),
			required:  gauge("clutch_required_degree_days", "Heat above the base that hatching requires in Celsius degree-days, the trade's unit and not a base unit.", "box", "clutch"),
			check:     gauge("clutch_check_from_timestamp_seconds", "Start of the hatch window: 10 % of such clutches hatch before it.", "box", "clutch"),
			likely:    gauge("clutch_likely_timestamp_seconds", "Middle of the hatch window: half of such clutches hatch before it. Absent where they hatch any day now or not at all.", "box", "clutch"),
			state:     gauge("clutch_state", "1 for the state of a clutch, 0 for the others: incubating, check daily, hatching, late. Absent where it has none.", "box", "clutch", "state"),
			late:      gauge("clutch_late_after_timestamp_seconds", "End of the hatch window: 95 % of such clutches hatch before it.", "box", "clutch"),
		},

		alarmActive: gauge("alarm_active", "1 while the alarm's condition holds, seen or not; 0 when it does not, and while it is shelved, suppressed or out of service.", "alarm", "zone", "priority"),

		outbox:       gauge("outbox_messages", "Messages not yet delivered."),
		outboxOldest: gauge("outbox_oldest_timestamp_seconds", "When the oldest undelivered message was written. Absent when there is none."),
		clock:        gauge("clock_synchronised", "1 when the time of day is known from a time source, else 0."),
		storage:      gauge("storage_bytes", "Size of the station's two files, the readings and the records. Absent when that could not be asked."),
		attempts:     counter("delivery_attempts_total", "Attempts to deliver a message since the start, by what they came to: delivered, retry, refused or dropped.", "sender", "result"),
		lastPoll:     gauge("last_poll_timestamp_seconds", "Since when every probe was tried, whether it answered or not. Absent while one never was."),
		pollInterval: gauge("poll_interval_seconds", "Configured time between two polls of a probe."),
		lastFlush:    gauge("last_flush_timestamp_seconds", "When the readings were last made durable. Absent before the first time."),
		station:      gauge("station_info", "The name of the station.", "station"),
		build:        gauge("build_info", "The build that runs.", "version", "goversion"),
	}
}

func (s metricSet) all() []metric {
	return []metric{
		s.probe.temperature, s.probe.humidity, s.probe.success, s.probe.up, s.probe.errors, s.zoneTrend,
		s.clutch.info, s.clutch.developed, s.clutch.observed, s.clutch.days, s.clutch.required, s.clutch.check, s.clutch.likely, s.clutch.late, s.clutch.state,
		s.alarmActive, s.outbox, s.outboxOldest, s.attempts, s.lastPoll, s.pollInterval, s.lastFlush, s.clock, s.storage, s.station, s.build,
	}
}

// Describe sends the description of every metric.
func (c *Collector) Describe(ch chan<- *prometheus.Desc) {
	for _, m := range metrics().all() {
		ch <- m.desc
	}
}

// Collect reads the state once and sends its values.
func (c *Collector) Collect(ch chan<- prometheus.Metric) {
	m := metrics()
	e := &emitter{ch: ch, seen: map[string]bool{}}
	e.put(m.build, 1, c.version, runtime.Version())
	for a, k := range c.attempts() {
		e.put(m.attempts, float64(k), a.Sender, a.Result)
	}
	n := c.source.Now()
	if n == nil {
		return
	}
	e.put(m.station, 1, n.Station.Name)
	e.put(m.pollInterval, n.Health.PollSeconds)
	e.maybeTime(m.lastPoll, n.Health.LastPoll)
	e.maybeTime(m.lastFlush, n.Health.Flushed)
	collectZones(e, m, n)
	collectClutches(e, m, n.Boxes)
	for id, on := range activeAlarms(n) {
		e.put(m.alarmActive, boolValue(on), id.alarm, id.zone, id.priority)
	}
	e.put(m.outbox, float64(n.Health.Waiting))
	e.maybeTime(m.outboxOldest, n.Health.OldestWaiting)
	e.put(m.clock, boolValue(n.Station.Clock == "synchronised"))
	if n.Health.StorageBytes > 0 { // 0: the size could not be read
		e.put(m.storage, float64(n.Health.StorageBytes))
	}
}

// commonCauses are the causes whose counters begin at zero.
var commonCauses = []string{"no-answer", "bad-frame"}

// collectZones sends the values of zones and of the probes there.
func collectZones(e *emitter, m metricSet, n *snapshot.Snapshot) {
	for _, z := range n.Zones {
		e.maybe(m.zoneTrend, z.TrendPerHour, z.Zone)
		for _, p := range n.ProbesOf(z) {
			up := p.Status != "stale" && p.Status != "missing"
			e.put(m.probe.up, boolValue(up), p.Probe, z.Zone)
			if up {
				e.maybe(m.probe.temperature, p.Celsius, p.Probe, z.Zone)
				e.maybe(m.probe.humidity, p.Humidity, p.Probe, z.Zone)
			}
			e.maybeTime(m.probe.success, p.LastGood, p.Probe, z.Zone)
			for _, cause := range commonCauses { // a rate misses the first count of a series that begins with it
				if _, ok := p.Errors[cause]; !ok {
					e.put(m.probe.errors, 0, p.Probe, cause)
				}
			}
			for cause, k := range p.Errors {
				e.put(m.probe.errors, float64(k), p.Probe, cause)
			}
		}
	}
}

// collectClutches sends the values of the clutches in boxes whose eggs wait. The series of a
// clutch end with its last egg.
func collectClutches(e *emitter, m metricSet, boxes []snapshot.Box) {
	for _, b := range boxes {
		for _, x := range soonestFirst(b.Clutches) {
			if !slices.ContainsFunc(x.Eggs, waits) {
				continue
			}
			e.put(m.clutch.info, 1, x.Clutch, text(x.Dam), text(x.Profile))
			e.maybe(m.clutch.developed, x.Developed, b.Box, x.Clutch)
			e.maybe(m.clutch.observed, x.Observed, b.Box, x.Clutch)
			if d := x.DegreeDays; d != nil {
				e.put(m.clutch.days, d.SoFar, b.Box, x.Clutch)
				e.put(m.clutch.required, d.Required, b.Box, x.Clutch)
			}
			if w := x.Window; w != nil {
				e.put(m.clutch.check, unixSeconds(w.CheckFrom), b.Box, x.Clutch)
				if !w.Likely.IsZero() {
					e.put(m.clutch.likely, unixSeconds(w.Likely), b.Box, x.Clutch)
				}
				e.put(m.clutch.late, unixSeconds(w.LateAfter), b.Box, x.Clutch)
			}
			if x.State != nil {
				for _, state := range snapshot.States() {
					e.put(m.clutch.state, boolValue(state == *x.State), b.Box, x.Clutch, state)
				}
			}
		}
	}
}

// waits reports whether an egg may still hatch.
func waits(e snapshot.Egg) bool { return e.Fate == "waiting" || e.Fate == "pipped" }

// soonestFirst orders clutches by their windows: of eggs of one clutch that came to a box
// apart, the first to hatch have the series.
func soonestFirst(clutches []snapshot.Clutch) []snapshot.Clutch {
	return slices.SortedStableFunc(slices.Values(clutches), func(a, b snapshot.Clutch) int {
		switch {
		case a.Window != nil && b.Window != nil:
			return a.Window.CheckFrom.Compare(b.Window.CheckFrom)
		case a.Window != nil:
			return -1
		case b.Window != nil:
			return 1
		}
		return 0
	})
}

// alarmID identifies one series of the metric alarm_active.
type alarmID struct{ alarm, zone, priority string }

// activeAlarms returns every alarm that can be raised and whether its condition holds.
// Several alarms of one name, such as one per probe, share a series. The series is 1 while
// any of them holds.
func activeAlarms(n *snapshot.Snapshot) map[alarmID]bool {
	all := map[alarmID]bool{}
	for _, k := range n.Known {
		all[alarmID{k.Alarm, k.Zone, k.Priority}] = false
	}
	for _, a := range n.Alarms {
		id := alarmID{a.Alarm, text(a.Zone), a.Priority}
		all[id] = all[id] || a.State == "active" || a.State == "acknowledged"
	}
	return all
}

// emitter sends values and sends each series once. A probe can serve two zones, and a
// clutch can lie in two boxes.
type emitter struct {
	ch   chan<- prometheus.Metric
	seen map[string]bool
}

// maybe sends a value if it is there and finite.
func (e *emitter) maybe(m metric, v *float64, labels ...string) {
	if v != nil && !math.IsNaN(*v) && !math.IsInf(*v, 0) {
		e.put(m, *v, labels...)
	}
}

// maybeTime sends a time if it is there.
func (e *emitter) maybeTime(m metric, t *time.Time, labels ...string) {
	if t != nil {
		e.put(m, unixSeconds(*t), labels...)
	}
}

// put sends a value, unless its series was sent before.
func (e *emitter) put(m metric, v float64, labels ...string) {
	for i, l := range labels {
		labels[i] = strings.ToValidUTF8(l, "\uFFFD")
	}
	key := m.desc.String() + "\xff" + strings.Join(labels, "\xff")
	if e.seen[key] {
		return
	}
	e.seen[key] = true
	x, err := prometheus.NewConstMetric(m.desc, m.kind, v, labels...)
	if err != nil {
		x = prometheus.NewInvalidMetric(m.desc, err)
	}
	e.ch <- x
}

// unixSeconds returns a time in seconds since 1970.
func unixSeconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

// boolValue returns 1 for true and 0 for false.
func boolValue(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// text returns the text, or "" for nil.
func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
