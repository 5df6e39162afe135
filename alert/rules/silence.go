package rules

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// silenceOffDelay is how long a probe answers before its silence is over, and goneTogether how
// many polls all probes of a bus miss before they seem to be gone together: our choice.
const (
	silenceOffDelay = time.Minute
	goneTogether    = 2
)

// silence watches probes that give nothing, and buses none of whose probes gives anything.
type silence struct{}

// ProbeSilence is the alarm of a probe that gives nothing. It is critical where the probe is
// all that its zone is watched by.
func ProbeSilence(zone, probe string, only bool) alert.Key {
	k := alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: zone, Probe: probe}
	if only {
		k.Priority = alert.Critical
	}
	return k
}

// BusSilence is the alarm of a bus that gives nothing.
func BusSilence(bus string) alert.Key {
	return alert.Key{Kind: alert.BusSilent, Priority: alert.Critical, Part: bus}
}

// IsSilence reports whether a kind is about something that gives nothing.
func IsSilence(k alert.Kind) bool { return k == alert.ProbeSilent || k == alert.BusSilent }

func (silence) Kinds() []alert.Kind { return []alert.Kind{alert.ProbeSilent, alert.BusSilent} }

func (silence) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		for i := range z.watchers() {
			p := z.watcher(i)
			k, again := ProbeSilence(z.Name, p.Name, z.only(p)), callAgainWarning
			if k.Priority == alert.Critical {
				again = callAgainCritical
			}
			limits[k] = alert.Limit{High: true, At: p.SilentAfter.Seconds(), OffDelay: silenceOffDelay, ReAlarm: again}
		}
	}
	for _, b := range v.Buses {
		l := alert.Limit{High: true, At: math.Inf(1), OffDelay: silenceOffDelay, ReAlarm: callAgainCritical}
		for _, p := range b.Probes {
			l.At = min(l.At, p.SilentAfter.Seconds())
		}
		limits[BusSilence(b.Name)] = l
	}
}

// Show shows how long probes and buses have been silent. Probes that went with their whole bus
// are hidden under it.
func (silence) Show(v *View, p *panel.Panel) {
	gone := map[*Probe]bool{}  // probes that went with their bus, or seem to
	whole := map[*Probe]bool{} // those whose bus's alarm stands
	for _, b := range v.Buses {
		k := BusSilence(b.Name)
		x, _ := p.Alarm(k)
		quiet, least, known := true, time.Duration(math.MaxInt64), false
		for _, probe := range b.Probes {
			d := v.silenceDuration(probe)
			quiet = quiet && d >= goneTogether*v.Every
			least = min(least, d)
			known = known || silenceKnown(probe, d, x.Limit.At)
		}
		p.Show(k, panel.Reading{Value: least.Seconds(), Known: known, Began: v.lastReading(b.Probes...)})
		if stands := p.Stands(k); quiet || stands {
			for _, probe := range b.Probes {
				gone[probe], whole[probe] = true, stands
			}
		}
	}
	for i := range v.Zones {
		z := &v.Zones[i]
		for i := range z.watchers() {
			probe := z.watcher(i)
			k, d, limit := ProbeSilence(z.Name, probe.Name, z.only(probe)), v.silenceDuration(probe), probe.SilentAfter.Seconds()
			// One that was told before its bus went stays: two lost polls of its neighbour
			// are no bus, and would have it told again.
			if gone[probe] && d.Seconds() >= limit && (whole[probe] || !p.Stands(k)) {
				p.Suppress(k, true)
			}
			p.Show(k, panel.Reading{
				Value: d.Seconds(), Known: silenceKnown(probe, d, limit), Probe: probe.Name, Began: v.lastReading(probe),
			})
			if !gone[probe] {
				p.Suppress(k, false)
			}
		}
	}
}

// silenceDuration is how long a probe has given nothing.
func (v *View) silenceDuration(p *Probe) time.Duration { return v.Now.Sub(later(p.Good, v.Started)) }

// silenceKnown reports whether a silence says anything against a limit in seconds: a probe
// that gave nothing since the start may have been silent long before it.
func silenceKnown(p *Probe, silent time.Duration, limit float64) bool {
	return !p.Good.IsZero() || silent.Seconds() >= limit
}

// lastReading is when one of some probes was last believed, before this start too; the start
// where that is not known.
func (v *View) lastReading(probes ...*Probe) time.Time {
	var last time.Time
	for _, p := range probes {
		last = later(last, later(p.Good, p.Before))
	}
	if last.IsZero() {
		return v.Started
	}
	return last
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
