package rules

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
)

// showUrgent shows the alarm of a safe limit that is passed soon. The alarm of the safe limit
// itself stands for it. Its end is not told while a warning of the same end stands: what is
// less urgent now is not over. A probe that jumped and is level since is no such alarm: the
// warning tells of it.
func (e *driftEnd) showUrgent(v *View, p *panel.Panel, z *Zone, k alert.Key) {
	x, _ := p.Alarm(k)
	c, safe := e.urgent, e.safe()
	if !x.True && c.probe != "" && c.At.Sub(v.Now) > episode.UrgentTime {
		c = foretold{}
	}
	if c.probe == "" && idle(&x) {
		return
	}
	worst, who := z.worst(celsius, safe.High)
	value, known := safe.At, true
	switch {
	case who == nil || safe.Beyond(worst):
		known = false
	case c.probe == "":
		value = inside(worst, safe)
	}
	warned, passed := band(p, k, alert.Warning), band(p, k, alert.Critical)
	lesser := warned.True || p.Stands(Drift(z.Name, safe.High))
	switch {
	case e.moved() && x.True:
		p.Suppress(k, true)
	case passed.True || c.probe == "" && lesser:
		p.Suppress(k, x.True || c.probe != "")
	case c.probe != "":
		p.Suppress(k, false)
	}
	e.present(v, p, z, k, c, panel.Reading{Value: value, Known: known, Probe: nameOf(who)})
	if !passed.True && !p.Stands(k) {
		p.Suppress(k, false)
	}
}

// showWarning shows the alarm of a limit that is on its way. An alarm of the band, once it is
// there, stands for the drift that led to it: this is hidden under it and ends unseen. A drift
// past the safe limit that begins while the wanted one is passed is news. Inside the band the
// alarm stands until the value is back where it usually is at that hour: a room whose dead
// heater levels off is not in order. One that then goes on is called again.
func (e *driftEnd) showWarning(v *View, p *panel.Panel, z *Zone, k alert.Key) {
	x, _ := p.Alarm(k)
	c, first := e.relevant, e.limits[0]
	if c.probe == "" && idle(&x) {
		return
	}
	worst, who := z.worst(celsius, first.High)
	warned, passed := band(p, k, alert.Warning), band(p, k, alert.Critical)
	outside := who != nil && first.Beyond(worst)
	value, known := c.Limit, true
	held := c.probe == "" && !outside && (e.holding || !e.ready)
	switch {
	case who == nil || held || e.limits[len(e.limits)-1].Beyond(worst) || outside && c.probe == "" && !warned.True:
		known = false // it holds where it is, or the band's own alarm speaks or will
	case c.probe == "":
		value = inside(worst, first)
	}
	above := warned.True || passed.True
	urgent := e.hasSafe && !e.moved() && p.Stands(UrgentDrift(z.Name, first.High))
	switch news := outside && c.probe != "" && !passed.True; {
	case e.moved() && !above:
		p.Suppress(k, false)
	case urgent && !x.True:
		p.Suppress(k, true)
	case news && !x.True:
		p.Suppress(k, false)
	case news && x.Since.After(warned.Since): // it was raised out there
	case above && (c.probe != "" || x.True):
		p.Suppress(k, true)
	}
	again := e.held && c.probe != "" // it goes on
	e.present(v, p, z, k, c, panel.Reading{Value: value, Known: known, Probe: nameOf(who), Again: again})
	e.held = held && x.True
	if !above && !urgent && !p.Stands(k) {
		p.Suppress(k, false)
	}
}

// moved reports whether nothing but probes that jumped and are level since foretells the safe
// limit.
func (e *driftEnd) moved() bool { return e.jumped && e.urgent.probe == "" }

// present shows an alarm a reading, which is that of the probe that drifts if one does. While
// that one is silent, the alarm goes on.
func (e *driftEnd) present(v *View, p *panel.Panel, z *Zone, k alert.Key, c foretold, r panel.Reading) {
	x, _ := p.Alarm(k)
	held := x.Held
	if c.probe != "" {
		r.Probe, held = c.probe, map[string]float64{c.probe: v.Probes[c.probe].Celsius}
	}
	if p.Hold(k, held, z.silent) && c.probe == "" { // the one that drifted went silent
		r.Known = false
	}
	p.Show(k, r)
}

// idle reports whether an alarm has no delay that runs and waits for nothing: most steps show
// it nothing.
func idle(x *alert.Alarm) bool {
	return x.State == alert.Normal && !x.True && !x.Hidden && x.ShelvedUntil.IsZero() && len(x.Held) == 0
}

// inside is a value that is not beyond a limit.
func inside(v float64, l alert.Limit) float64 {
	const hair = 0.01 // K
	if l.High {
		return min(v, l.At-hair)
	}
	return max(v, l.At+hair)
}

// band is the alarm of the band's end that a drift leads to; without a limit it stands for
// nothing.
func band(p *panel.Panel, drift alert.Key, priority alert.Priority) alert.Alarm {
	k := alert.Key{Kind: alert.TemperatureLow, Priority: priority, Zone: drift.Zone}
	if drift.Kind == alert.DriftUp {
		k.Kind = alert.TemperatureHigh
	}
	x, _ := p.Alarm(k)
	return x
}
