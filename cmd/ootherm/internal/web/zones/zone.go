// Package zones shows what zones and probes measured: their state, the plot of their last day,
// which it keeps for a minute, and those of longer spans. Others hand it marks to draw. It must
// not know of eggs.
package zones

import (
	"fmt"
	"html/template"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

type ProbeView struct {
	page.Badge
	Href, Name, Figures, Age string
}

type View struct {
	page.Badge
	nameView
	moistureView
	zonePlotView
	earlyWarningView
	Temperature, Trend, Age, SetPoint, Wanted, Safe, Apart string
	Probes                                                 []ProbeView
	Rank                                                   int
}

// moistureView is how moist the air is, and how moist it should be.
type moistureView struct{ Humidity, Damp, Dew, Vapour, Drying string }

// How bad a zone is, from the worst. A zone with an alarm comes before these, in
// the order of the alarms.
const (
	RankSilent = 1<<20 + iota
	RankOut
	RankUneasy
	RankFine
)

// nameView is which zone it is, and where its page is.
type nameView struct{ Href, Name, Sort string }

// earlyWarningView is until when there is no early warning, and where its rehearsal is.
type earlyWarningView struct{ Learning, Rehearsal string }

// zonePlotView is the figure of a zone's last day, or why there is none.
type zonePlotView struct {
	Figure      template.HTML
	PlotTrouble string
}

// Views shows zones, and keeps what their plots are drawn from.
type Views struct {
	*page.Site
	traces traces
}

func (s *Views) View(n *snapshot.Snapshot, z snapshot.Zone) View {
	r := s.Reader
	v := View{nameView: nameView{Href: page.ZoneHref(z.Zone), Name: z.Zone, Sort: z.Kind}, Temperature: "no reading", Trend: "trend " + words.Unknown,
		Wanted: r.Band(z.Wanted.Low, z.Wanted.High), Safe: r.Band(z.Safe.Low, z.Safe.High),
		moistureView: moistureView{Damp: r.HumidityBand(z.HumidityBand.Low, z.HumidityBand.High)}}
	if z.Kind == z.Zone {
		v.Sort = ""
	}
	v.Learning = words.Rehearsal{Reader: r, At: n.At}.Learning(z.LearningUntil)
	if s.Incidents != nil {
		v.Rehearsal = alarmpages.RehearsalHref(z.Zone)
	}
	if z.Celsius != nil {
		v.Temperature = r.Temperature(*z.Celsius)
	}
	if z.Humidity != nil {
		v.Humidity = r.Humidity(*z.Humidity)
	}
	if z.TrendPerHour != nil {
		v.Trend = r.Trend(*z.TrendPerHour)
	}
	if z.SetPoint != nil {
		v.SetPoint = r.Temperature(*z.SetPoint)
	}
	if z.SpreadK != nil {
		v.Apart = r.Difference(*z.SpreadK)
	}
	if z.DewPoint != nil {
		v.Dew = r.Temperature(*z.DewPoint)
	}
	if z.Vapour != nil && z.Deficit != nil {
		v.Vapour = fmt.Sprintf("%.1f g/m³", *z.Vapour)
		v.Drying = fmt.Sprintf("%.2f kPa", *z.Deficit/1000)
	}
	var newest *float64
	for _, p := range z.Probes {
		v.Probes = append(v.Probes, s.Probe(n, z, p))
		if p.Status == "ok" && p.AgeSeconds != nil && (newest == nil || *p.AgeSeconds < *newest) {
			newest = p.AgeSeconds
		}
	}
	if newest != nil {
		v.Age = words.Ago(words.Seconds(*newest) + s.Lag(n))
	}
	v.Badge, v.Rank = zoneState(n, z)
	if v.Rank == RankFine && s.Stalled(n) {
		v.Badge = page.Badge{Shape: words.Silent, Word: "old", Kind: page.KindSilent}
	}
	return v
}

// zoneState is the worst that can be said of a zone. It goes by the worst probe:
// a hot one is never averaged away. What is wrong with a box there is said of the box.
func zoneState(n *snapshot.Snapshot, z snapshot.Zone) (page.Badge, int) {
	for i, a := range alarmpages.Sorted(n.Alarms) {
		if words.OrEmpty(a.Zone) != z.Zone || a.Box != nil || alarmpages.Resting(a) || a.State == "returned" || a.Recovery != nil {
			continue
		}
		said := words.Alarm(a.Alarm)
		return page.Badge{Shape: said.Shape, Word: said.Wrong, Kind: page.KindOf(said.Shape)}, i
	}
	if z.Celsius == nil {
		return page.Badge{Shape: words.Silent, Word: "no reading", Kind: page.KindSilent}, RankSilent
	}
	warm, cold, lame := false, false, 0
	see := func(c *float64) {
		low, high := outside(z, c)
		cold, warm = cold || low, warm || high
	}
	see(z.Celsius)
	for _, p := range z.Probes {
		if p.Status == "ok" {
			see(p.Celsius)
		} else {
			lame++
		}
	}
	switch {
	case warm && cold:
		return page.Badge{Shape: words.Other, Word: "warm and cold spots", Kind: page.KindOther}, RankOut
	case warm:
		return page.Badge{Shape: words.Warm, Word: "warm", Kind: page.KindWarm}, RankOut
	case cold:
		return page.Badge{Shape: words.Cold, Word: "cool", Kind: page.KindCold}, RankOut
	case off(n, z.Zone) != "":
		return page.Badge{Shape: words.Other, Word: off(n, z.Zone), Kind: page.KindOther}, RankUneasy
	case lame > 0:
		return page.Badge{Shape: words.Other, Word: words.Count(lame, "probe", "probes") + " out", Kind: page.KindOther}, RankUneasy
	case z.Wanted.Low == nil && z.Wanted.High == nil:
		return page.Badge{Shape: words.Fine, Word: "measured", Kind: page.KindFine}, RankFine
	}
	return page.Badge{Shape: words.Fine, Word: "in band", Kind: page.KindFine}, RankFine
}

// outside reports whether a temperature is at an end of a zone's bands or beyond it.
func outside(z snapshot.Zone, c *float64) (cold, warm bool) {
	if c == nil {
		return false, false
	}
	for _, b := range [...]snapshot.Band{z.Wanted, z.Safe} {
		cold = cold || b.Low != nil && *c <= *b.Low
		warm = warm || b.High != nil && *c >= *b.High
	}
	return cold, warm
}

func (s *Views) Probe(n *snapshot.Snapshot, z snapshot.Zone, p snapshot.Probe) ProbeView {
	r := s.Reader
	v := ProbeView{Badge: page.Badge{Shape: words.Fine, Word: words.Probe(p), Kind: page.KindFine}, Href: page.ProbeHref(p.Probe), Name: p.Probe, Age: "no reading yet"}
	switch cold, warm := outside(z, p.Celsius); {
	case p.Status != "ok":
		v.Shape, v.Kind = words.Silent, page.KindSilent
	case warm:
		v.Shape, v.Word, v.Kind = words.Warm, "warm", page.KindWarm
	case cold:
		v.Shape, v.Word, v.Kind = words.Cold, "cool", page.KindCold
	}
	// A figure that is old or not believed would be read as the present.
	var figures []string
	if p.Status == "ok" && p.Celsius != nil {
		figures = append(figures, r.Temperature(*p.Celsius))
	}
	if p.Status == "ok" && p.Humidity != nil {
		wet := r.Humidity(*p.Humidity)
		if p.Saturated && !strings.Contains(wet, "saturated") {
			wet += ", saturated" // for so long that the part has crept
		}
		figures = append(figures, wet)
	}
	v.Figures = page.Tied(strings.Join(figures, ", "))
	if p.AgeSeconds != nil {
		v.Age = words.Ago(words.Seconds(*p.AgeSeconds) + s.Lag(n))
		if p.Status != "ok" {
			v.Age = "last reading " + v.Age
		}
	}
	return v
}
