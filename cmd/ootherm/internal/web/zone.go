package web

import (
	"fmt"
	"html/template"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// zoneViews shows zones, and keeps what their plots are drawn from.
type zoneViews struct {
	*server
	traces traces
}

// earlyWarningView is until when there is no early warning, and where its rehearsal is.
type earlyWarningView struct{ Learning, Rehearsal string }

// zonePlotView is the figure of a zone's last day, or why there is none.
type zonePlotView struct {
	Figure      template.HTML
	PlotTrouble string
}

func (s *zoneViews) view(n *snapshot.Snapshot, z snapshot.Zone) zoneView {
	r := s.Reader
	v := zoneView{Name: z.Zone, Sort: z.Kind, Temperature: "no reading", Trend: "trend " + words.Unknown,
		Wanted: r.Band(z.Wanted.Low, z.Wanted.High), Safe: r.Band(z.Safe.Low, z.Safe.High),
		moistureView: moistureView{Damp: r.HumidityBand(z.HumidityBand.Low, z.HumidityBand.High)}}
	if z.Kind == z.Zone {
		v.Sort = ""
	}
	v.Learning = words.Rehearsal{Reader: r, At: n.At}.Learning(z.LearningUntil)
	if s.Incidents != nil {
		v.Rehearsal = rehearsalHref(z.Zone)
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
	if z.Spread != nil {
		v.Apart = r.Difference(*z.Spread)
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
		v.Probes = append(v.Probes, s.probe(n, z, p))
		if p.Status == "ok" && p.AgeSeconds != nil && (newest == nil || *p.AgeSeconds < *newest) {
			newest = p.AgeSeconds
		}
	}
	if newest != nil {
		v.Age = words.Ago(words.Seconds(*newest) + s.lag(n))
	}
	v.badge, v.rank = zoneState(n, z)
	return v
}

// zoneState is the worst that can be said of a zone. It goes by the worst probe:
// a hot one is never averaged away.
func zoneState(n *snapshot.Snapshot, z snapshot.Zone) (badge, int) {
	for i, a := range sorted(n.Alarms) {
		if text(a.Zone) != z.Zone || resting(a) || a.State == "returned" || a.Recovery != nil {
			continue
		}
		said := words.Alarm(a.Alarm)
		return badge{said.Shape, said.Wrong, kindOf(said.Shape)}, i
	}
	if z.Celsius == nil {
		return badge{words.Silent, "no reading", kindSilent}, rankSilent
	}
	warm, cold, lame := false, false, 0
	see := func(c *float64) {
		if c != nil {
			warm = warm || z.Wanted.High != nil && *c >= *z.Wanted.High
			cold = cold || z.Wanted.Low != nil && *c <= *z.Wanted.Low
		}
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
		return badge{words.Other, "warm and cold spots", kindOther}, rankOut
	case warm:
		return badge{words.Warm, "warm", kindWarm}, rankOut
	case cold:
		return badge{words.Cold, "cool", kindCold}, rankOut
	case off(n, z.Zone) != "":
		return badge{words.Other, off(n, z.Zone), kindOther}, rankUneasy
	case lame > 0:
		return badge{words.Other, words.Count(lame, "probe", "probes") + " out", kindOther}, rankUneasy
	case z.Wanted.Low == nil && z.Wanted.High == nil:
		return badge{words.Fine, "measured", kindFine}, rankFine
	}
	return badge{words.Fine, "in band", kindFine}, rankFine
}

func (s *zoneViews) probe(n *snapshot.Snapshot, z snapshot.Zone, p snapshot.Probe) probeView {
	r := s.Reader
	v := probeView{badge: badge{words.Fine, words.Probe(p), kindFine}, Name: p.Probe, Age: "no reading yet"}
	switch {
	case p.Status != "ok":
		v.Shape, v.Kind = words.Silent, kindSilent
	case p.Celsius != nil && z.Wanted.High != nil && *p.Celsius >= *z.Wanted.High:
		v.Shape, v.Word, v.Kind = words.Warm, "warm", kindWarm
	case p.Celsius != nil && z.Wanted.Low != nil && *p.Celsius <= *z.Wanted.Low:
		v.Shape, v.Word, v.Kind = words.Cold, "cool", kindCold
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
	v.Figures = tied(strings.Join(figures, ", "))
	if p.AgeSeconds != nil {
		v.Age = words.Ago(words.Seconds(*p.AgeSeconds) + s.lag(n))
		if p.Status != "ok" {
			v.Age = "last reading " + v.Age
		}
	}
	return v
}
