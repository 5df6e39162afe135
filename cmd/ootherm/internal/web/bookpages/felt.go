package bookpages

import (
	"context"
	"html/template"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Felt is what eggs felt: in words, as a drawing, what of it they should not have felt, and
// the alarms of their time.
type Felt struct {
	Text    string
	Figure  template.HTML
	Outside []string
	Between string // how Outside counts where several probes tell; empty: one does
	Alarms  []alarmpages.PastLink
}

// fewAlarms is how many alarms a clutch's page lists, the last first (our choice).
const fewAlarms = 6

// FeltBy draws what eggs felt that stayed together, until a time, on an axis, and lists the
// alarms where they were. Ticks are those of the axis. The bands are those of the eggs' kind;
// where that has none, or for an empty kind, those of the zone.
func (s Pages) FeltBy(ctx context.Context, n *snapshot.Snapshot, kind string, stays []book.Stay, until time.Time, axis chart.Scale, ticks []chart.Tick, wanted Wanted) (v Felt) {
	var spans []zones.Stay
	x := zones.Subject{}
	for _, stay := range stays {
		span := zones.Stay{Offset: stay.Offset, From: stay.From, To: stay.To}
		if span.To.IsZero() || span.To.After(until) {
			span.To = until
		}
		z := zoneOf(n, stay.Zone)
		for _, p := range z.Probes {
			span.Probes = append(span.Probes, p.Probe)
		}
		if stay.Probe != "" {
			span.Probes = []string{stay.Probe}
		}
		if n := len(span.Probes); n > 1 {
			v.Between = "Counted by the middle of the " + words.Count(n, "probe", "probes") + " of " + z.Zone + "; the drawing shows the coldest and the warmest of them."
		}
		if span.From.Before(span.To) {
			spans, x.Zone = append(spans, span), z
		}
	}
	if len(spans) == 0 {
		return v
	}
	if s.Bands != nil {
		if wants, safe := s.Bands(kind); wants != (snapshot.Band{}) {
			x.Zone.Wanted, x.Zone.Safe = wants, safe
		}
	}
	if b := s.book(); b != nil && wanted != nil {
		x.Marks = marksOf(b, wanted)
	}
	alarms := s.alarmsOf(stays, spans[0].From, until)
	in := words.Incident{Reader: s.Reader, At: n.At}
	for _, a := range slices.Backward(alarmpages.Worst(alarms)) {
		if a.Ended != nil && len(v.Alarms) < fewAlarms {
			v.Alarms = append(v.Alarms, alarmpages.PastLink{Href: alarmpages.IncidentHref(a.Began.Add(-alarmpages.Aside), a.Ended.Add(alarmpages.Aside)), Text: in.Alarm(a)})
		}
	}
	f, err := s.Zones.Felt(ctx, x, spans, alarms, axis)
	if err != nil {
		if ctx.Err() == nil {
			s.Log.Error("what a clutch felt could not be read", "err", err)
		}
		return v
	}
	if f != nil {
		f.Plot.Ticks, f.Plot.Now = ticks, chart.Seconds(until)
		v.Figure = f.HTML()
	}
	return v
}

// FeltSince is what eggs or a box felt from a time until another, on an axis of its own.
func (s Pages) FeltSince(ctx context.Context, n *snapshot.Snapshot, kind string, stays []book.Stay, from, until time.Time, wanted Wanted) Felt {
	pad := until.Sub(from) / 50
	x := chart.Span(from.Add(-pad), until.Add(pad))
	const phone = 0.12 // three letters and a gap on a phone
	ticks := chart.Thin(chart.Months(from, until, s.Place(), func(t time.Time) string { return t.Format("Jan") }), x, phone)
	if len(ticks) < 2 {
		ticks = []chart.Tick{{At: chart.Seconds(from), Text: s.Reader.ShortDate(from)}, {At: chart.Seconds(until), Text: s.Reader.ShortDate(until)}}
	}
	var within []book.Stay
	for _, stay := range stays {
		if stay.From.Before(from) {
			stay.From = from
		}
		within = append(within, stay)
	}
	return s.FeltBy(ctx, n, kind, within, until, x, ticks, wanted)
}

// zoneOf is a zone by its name; without limits and probes where there is none now.
func zoneOf(n *snapshot.Snapshot, name string) snapshot.Zone {
	for _, z := range n.Zones {
		if z.Zone == name {
			return z
		}
	}
	return snapshot.Zone{Zone: name}
}

// alarmsOf are the alarms in the zones of stays while the eggs were there.
func (s Pages) alarmsOf(stays []book.Stay, from, to time.Time) (own []snapshot.PastAlarm) {
	if s.Incidents == nil {
		return nil
	}
	all, err := s.Incidents.Alarms(from, to)
	if err != nil {
		s.Log.Error("the alarms that were could not be read", "err", err)
		return nil
	}
	for _, a := range all {
		if a.Priority == "notice" {
			continue
		}
		there := slices.ContainsFunc(stays, func(x book.Stay) bool {
			return x.Zone == words.OrEmpty(a.Zone) && !a.Began.Before(x.From) && (x.To.IsZero() || a.Began.Before(x.To))
		})
		if there {
			own = append(own, a)
		}
	}
	return own
}

// IncidentPlot draws a zone in a span of time, with its alarms and what was noted; nothing
// where nothing was measured.
func (s Pages) IncidentPlot(ctx context.Context, zone string, from, to time.Time, alarms []snapshot.PastAlarm) template.HTML {
	n := s.Source.Now()
	if n == nil {
		return ""
	}
	x := zones.Subject{Zone: zoneOf(n, zone)}
	if b := s.book(); b != nil {
		x.Marks = marksOf(b, OfZone(b, zone))
	}
	f, err := s.Zones.Between(ctx, x, alarms, from, to)
	if err != nil {
		if ctx.Err() == nil {
			s.Log.Error("a span of a zone could not be read", "zone", zone, "err", err)
		}
		return ""
	}
	if f == nil {
		return ""
	}
	return f.HTML()
}
