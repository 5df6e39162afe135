package station

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Alarms of the station itself.
var (
	storageFailing   = alert.Key{Kind: alert.StorageFailing, Priority: alert.Critical}
	storageFull      = alert.Key{Kind: alert.StorageFailing, Priority: alert.Warning}
	clockUnverified  = alert.Key{Kind: alert.ClockUnverified, Priority: alert.Notice}
	stationRestarted = alert.Key{Kind: alert.StationRestarted, Priority: alert.Notice}
	copyFailing      = alert.Key{Kind: alert.CopyFailing, Priority: alert.Notice}
)

// Figures of the conditions, all our choice.
const (
	clockPatience   = 10 * time.Minute // a time server answers in seconds, a router takes minutes
	senderPatience  = 15 * time.Minute // a mail server that is busy is no alarm yet
	copyPatience    = time.Hour        // a stick that is changed
	restartShown    = 10 * time.Minute
	offWorthTelling = 10 * time.Minute // as long as counts as measured
	leastFree       = 100 << 20        // bytes; three months of a dozen probes
	windowsEvery    = 10 * time.Minute // a window is a matter of days
	windowHeld      = 24 * time.Hour   // a window moves a little each day
	lateAgain       = 7 * 24 * time.Hour
	apartDeadband   = 0.5 // K
	apartFor        = time.Hour
	rateDeadband    = 1.0 // K an hour
	rateFor         = 10 * time.Minute
	rateOver        = 30 * time.Minute
	apartAgain      = 24 * time.Hour
)

// Undelivered is what the last attempt of a sender came to.
type Undelivered struct {
	Since time.Time // of its first failure in a row
	Err   string    // of the last; empty: it got through
}

func senderFailing(name string) alert.Key {
	return alert.Key{Kind: alert.SenderFailing, Priority: alert.Warning, Part: name}
}

func busSilent(bus string) alert.Key {
	return alert.Key{Kind: alert.BusSilent, Priority: alert.Critical, Part: bus}
}

func isSilence(k alert.Kind) bool { return k == alert.ProbeSilent || k == alert.BusSilent }

func disagreeing(zone string) alert.Key {
	return alert.Key{Kind: alert.ProbesDisagree, Priority: alert.Warning, Zone: zone}
}

func changing(zone string) alert.Key {
	return alert.Key{Kind: alert.RateOfChange, Priority: alert.Warning, Zone: zone}
}

func opening(g *group) alert.Key {
	return alert.Key{Kind: alert.WindowOpening, Priority: alert.Notice, Box: g.box, Clutch: g.clutch}
}

func late(g *group) alert.Key {
	return alert.Key{Kind: alert.Late, Priority: alert.Notice, Box: g.box, Clutch: g.clutch}
}

// conditionLimits adds the alarms that watch a condition.
func (s *Station) conditionLimits(want map[alert.Key]alert.Limit) {
	want[storageFailing] = alert.Condition(0, 0, reAlarmCritical)
	want[clockUnverified] = alert.Condition(clockPatience, 0, 0)
	want[stationRestarted] = alert.Condition(0, 0, 0)
	want[historyDamaged] = alert.Condition(0, 0, 0)
	if s.o.Free != nil {
		want[storageFull] = alert.Condition(0, 0, apartAgain)
	}
	if s.o.Troubles != nil {
		for _, x := range s.plan.Senders {
			want[senderFailing(x.Name)] = alert.Condition(senderPatience, 0, apartAgain)
		}
	}
	if s.o.Copies != nil {
		want[copyFailing] = alert.Condition(copyPatience, 0, lateAgain)
	}
	for _, x := range s.plan.Senders {
		if x.AllWell != nil {
			want[allWell(x.Name)] = alert.Condition(0, 0, 0)
		}
	}
	for bus, probes := range s.shared() {
		l := alert.Limit{High: true, At: math.Inf(1), OffDelay: time.Minute, ReAlarm: reAlarmCritical}
		for _, p := range probes {
			l.At = min(l.At, s.plan.SilentAfter(p.name).Seconds())
		}
		want[busSilent(bus)] = l
	}
	for _, z := range s.zones {
		if z.plan.Apart > 0 && len(z.probes) > 1 {
			want[disagreeing(z.plan.Name)] = alert.Limit{
				High: true, At: z.plan.Apart, Deadband: min(apartDeadband, z.plan.Apart/2), OnDelay: apartFor, OffDelay: rateOver, ReAlarm: apartAgain,
			}
		}
		if z.plan.Rate > 0 {
			want[changing(z.plan.Name)] = alert.Limit{
				High: true, At: z.plan.Rate, Deadband: min(rateDeadband, z.plan.Rate/2), OnDelay: rateFor, OffDelay: rateOver, ReAlarm: reAlarmWarning,
			}
		}
	}
	for _, g := range s.groups() {
		if g.waiting {
			want[opening(g)] = alert.Condition(0, windowHeld, 0)
			want[late(g)] = alert.Condition(0, windowHeld, lateAgain)
		}
	}
}

// shared are the buses with more than one probe.
func (s *Station) shared() map[string][]*probe {
	if s.buses != nil {
		return s.buses
	}
	all := map[string][]*probe{}
	for _, p := range s.plan.Probes {
		if p.Bus != "" {
			all[p.Bus] = append(all[p.Bus], s.probes[p.Name])
		}
	}
	for bus, probes := range all {
		if len(probes) < 2 {
			delete(all, bus)
		}
	}
	s.buses = all
	return all
}

// watchStation shows the alarms of the station itself how it is.
func (s *Station) watchStation() {
	failing := s.flushes.failing || s.out.failing
	s.observe(storageFailing, alert.Truth(failing), failing || !s.flushes.done.IsZero(), "")
	s.observe(clockUnverified, alert.Truth(!s.boot.Synchronised), true, "")
	off := s.off > offWorthTelling
	if _, ok := s.panel.Alarm(stationRestarted); ok && off && !s.restartSeen {
		s.observe(stationRestarted, alert.Truth(false), true, "") // of an earlier restart
		s.restartSeen = true
	}
	s.observe(stationRestarted, alert.Truth(off && s.now.Sub(s.started) < restartShown), true, "")
	if s.o.Free != nil && s.now.Sub(s.freeAsked).Abs() >= time.Minute {
		s.freeAsked = s.now
		free, err := s.o.Free()
		s.free = free
		s.observe(storageFull, alert.Truth(free < leastFree), err == nil, "")
	}
	if s.o.Copies != nil {
		s.observe(copyFailing, alert.Truth(s.copyTrouble() != ""), true, "")
	}
	if s.o.Troubles != nil {
		troubles := s.o.Troubles()
		for _, x := range s.plan.Senders {
			last, tried := troubles[x.Name] // a start says nothing of one that was not tried since
			s.observe(senderFailing(x.Name), alert.Truth(last.Err != ""), tried, "")
		}
	}
}

// copies are the ways the book leaves the card.
func (s *Station) copies() []snapshot.Copy {
	if s.o.Copies == nil {
		return []snapshot.Copy{}
	}
	return s.o.Copies()
}

// copyTrouble is why the book does not leave the card; empty where it does.
func (s *Station) copyTrouble() string {
	for _, c := range s.copies() {
		if c.Err != nil {
			return *c.Err
		}
	}
	return ""
}

// silenceDuration is how long a probe has given nothing.
func (s *Station) silenceDuration(p *probe) time.Duration { return s.now.Sub(later(p.good, s.started)) }

// heardOf reports whether that says anything against a limit in seconds: a probe that
// gave nothing since the start may have been silent long before it.
func (p *probe) heardOf(silenceDuration time.Duration, limit float64) bool {
	return !p.good.IsZero() || silenceDuration.Seconds() >= limit
}

// lastReading is when one of some probes was last believed, before this start too; the
// start where that is not known.
func (s *Station) lastReading(probes ...*probe) time.Time {
	var last time.Time
	for _, p := range probes {
		last = later(last, later(p.good, p.before))
	}
	if last.IsZero() {
		return s.started
	}
	return last
}

// watchSilence shows the alarms of silent probes and buses how long they have
// been so. Probes that went with their whole bus are hidden under it.
func (s *Station) watchSilence() {
	gone := map[string]bool{}  // probes that went with their bus, or seem to
	whole := map[string]bool{} // those whose bus's alarm stands
	for bus, probes := range s.shared() {
		k, quiet, since, known := busSilent(bus), true, time.Duration(math.MaxInt64), false
		x, _ := s.panel.Alarm(k)
		for _, p := range probes {
			d := s.silenceDuration(p)
			quiet = quiet && d >= 2*s.plan.Every
			since = min(since, d)
			known = known || p.heardOf(d, x.Limit.At)
		}
		s.panel.Show(k, panel.Reading{Value: since.Seconds(), Known: known, Began: s.lastReading(probes...)})
		if stands := s.panel.Stands(k); quiet || stands {
			for _, p := range probes {
				gone[p.name], whole[p.name] = true, stands
			}
		}
	}
	for _, z := range s.zones {
		for _, p := range z.eyes() {
			k, d := silence(z.plan.Name, p.name, z.only(p)), s.silenceDuration(p)
			x, _ := s.panel.Alarm(k)
			// One that was told before its bus went stays: two lost polls of its
			// neighbour are no bus, and would have it told again.
			if gone[p.name] && d.Seconds() >= x.Limit.At && (whole[p.name] || !x.True) {
				s.panel.Suppress(k, true)
			}
			s.panel.Show(k, panel.Reading{Value: d.Seconds(), Known: p.heardOf(d, x.Limit.At), Probe: p.name, Began: s.lastReading(p)})
			if !gone[p.name] {
				s.panel.Suppress(k, false)
			}
		}
	}
}

// watchZone shows the alarms of how a zone goes, beside those of its bands.
func (s *Station) watchZone(z *zone, fresh time.Duration) {
	if x, ok := s.panel.Alarm(disagreeing(z.plan.Name)); ok {
		hi, hot := z.worst(s.now, fresh, celsius, true)
		lo, cold := z.worst(s.now, fresh, celsius, false)
		known, held := hot != nil && cold != nil && hot != cold, x.Held
		if known && x.Limit.Beyond(hi-lo) {
			held = map[string]float64{hot.name: hi, cold.name: lo}
		}
		lost := s.panel.Hold(x.Key, held, s.isSilent) && !x.Limit.Beyond(hi-lo) // those that are left may agree
		s.observe(x.Key, hi-lo, known && !lost, "")
	}
	if _, ok := s.panel.Alarm(changing(z.plan.Name)); ok {
		rate := math.Abs(z.trend.PerHour())
		s.observe(changing(z.plan.Name), rate, !math.IsNaN(rate), "")
	}
}

// watchWindows shows the alarms of each clutch where its window stands.
func (s *Station) watchWindows() {
	if s.windowsAsked.reckoned.Equal(s.reckoned) && s.now.Sub(s.windowsAsked.at).Abs() < windowsEvery {
		return
	}
	s.windowsAsked.reckoned, s.windowsAsked.at = s.reckoned, s.now
	for _, g := range s.groups() {
		r, ok := s.windows[g.id()]
		if !g.waiting || !ok || !r.window.Exists() || r.rate == nil {
			continue
		}
		w := r.window
		past := w.Late || !s.now.Before(w.LateAfter)
		s.observe(opening(g), alert.Truth(!past && !s.now.Before(w.CheckFrom)), true, "")
		s.observe(late(g), alert.Truth(past), true, "")
	}
}

// lookBack finds how long the station was off before it started. A boot whose
// time is not known says nothing of that.
func (s *Station) lookBack() {
	s.off = 0
	if !s.boot.Synchronised {
		return
	}
	for _, back := range [...]time.Duration{time.Hour, 24 * time.Hour, 30 * 24 * time.Hour} {
		var last time.Time
		for name, probe := range s.probes {
			for p, err := range s.o.History.Range(name, s.started.Add(-back), s.started) {
				if err != nil {
					s.reportRead(err)
					continue
				}
				last = later(last, p.At)
				if p.Believed() {
					probe.before = later(probe.before, p.At)
				}
			}
		}
		if !last.IsZero() {
			s.off = s.started.Sub(last)
			return
		}
	}
}

// groupOf is the clutch that an alarm is about; nil when it is about none.
func (s *Station) groupOf(k alert.Key) *group {
	for _, g := range s.groups() {
		if k.Clutch != "" && g.box == k.Box && g.clutch == k.Clutch {
			return g
		}
	}
	return nil
}

func (s *Station) windowAlarm(k alert.Key) *snapshot.Window {
	g := s.groupOf(k)
	if g == nil {
		return nil
	}
	return s.windows[g.id()].shown.Window
}
