package station

import (
	"iter"
	"math"
	"time"

	"example.com/ootherm/alert"
	alertlog "example.com/ootherm/alert/log"
	"example.com/ootherm/cmd/ootherm/internal/incident"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// AlarmLog keeps what alarms there were. Keep is durable when it returns; Between may
// be called from any goroutine.
type AlarmLog interface {
	Keep([]alert.Event) error
	Between(from, to time.Time) ([]alertlog.Occurrence, error)
}

var _ AlarmLog = (*alertlog.Store)(nil)

// Incident hands over what is needed to look back at a span of one zone or, for an
// empty name, of all. The result is read beside the station.
func (s *Station) Incident(from, to time.Time, zone string) (incident.Query, error) {
	if s.now.Before(to) {
		to = s.now
	}
	r, peaks := s.historyReader(), s.standingPeaks()
	q := incident.Query{
		From: from, To: to, Zone: zone, Plan: s.plan, Fresh: r.fresh, Gap: r.gap, Readings: r.believed, Felt: r.felt, Shown: s.ShownWindows,
		Alarms: func(from, to time.Time) ([]snapshot.PastAlarm, error) {
			return pastAlarms(s.o.AlarmLog, peaks, from, to)
		},
	}
	for _, g := range s.groups() {
		c := incident.Clutch{Clutch: g.Clutch, Profile: g.Profile, Box: g.Box, Dams: g.Dams, Stays: g.Stays}
		for _, e := range g.Eggs {
			if track.Undecided(e) || e.FateAt.After(from) {
				c.Eggs++
			}
		}
		if _, ok := s.plan.Profile(g.Profile); ok && !g.Arrested {
			b, err := s.forecast.now.Load().Belief(s.house(), g)
			if err != nil {
				return q, err
			}
			c.Rate = b.Model()
		}
		q.Clutches = append(q.Clutches, c)
	}
	return q, nil
}

// standingPeaks gives the worst value of each alarm that stands: the log has an older
// one.
func (s *Station) standingPeaks() map[alert.Key]float64 {
	peaks := map[alert.Key]float64{}
	for _, k := range s.panel.Keys() {
		if a, _ := s.panel.Alarm(k); a.True {
			peaks[k] = a.Peak
		}
	}
	return peaks
}

// pastAlarms gives the alarms that lasted at some time of a span.
func pastAlarms(log AlarmLog, peaks map[alert.Key]float64, from, to time.Time) ([]snapshot.PastAlarm, error) {
	all := []snapshot.PastAlarm{}
	if log == nil {
		return all, nil
	}
	kept, err := log.Between(from, to)
	if err != nil {
		return nil, err
	}
	for _, a := range kept {
		if worst, ok := peaks[a.Key]; ok && a.Ended.IsZero() {
			a.Peak = snapshot.OptFloat(worst)
		}
		all = append(all, pastAlarm(a))
	}
	return all, nil
}

func pastAlarm(a alertlog.Occurrence) snapshot.PastAlarm {
	v := snapshot.PastAlarm{
		Alarm: string(a.Key.Kind), Zone: snapshot.OptText(a.Key.Zone), Box: snapshot.OptText(a.Key.Box), Probe: snapshot.OptText(a.Key.Probe), Clutch: snapshot.OptText(a.Key.Clutch),
		Part: snapshot.OptText(a.Key.Part), Priority: string(a.Key.Priority), Began: a.Began, Raised: a.Raised, Limit: a.Limit, Peak: a.Peak,
	}
	if !a.Seen.IsZero() {
		v.Seen = &a.Seen
	}
	if !a.Ended.IsZero() {
		v.Ended = &a.Ended
	}
	if a.Key.Kind.Unit() == alert.None {
		v.Limit, v.Peak = nil, nil
	}
	return v
}

// believed gives the believed readings of probes, corrected, in the order of their
// times. Readings that are damaged are left out: they are a gap.
func (r historyReader) believed(probes []string, from, to time.Time) iter.Seq2[incident.Reading, error] {
	return func(yield func(incident.Reading, error) bool) {
		for p, err := range merged(r.past, probes, from, to) {
			if isDamage(err) || err == nil && (!p.Believed() || math.IsNaN(p.Celsius)) {
				continue
			}
			m := r.correct.Measurement(p.Probe, p.At, p.Measurement)
			if !yield(incident.Reading{Probe: p.Probe, At: p.At, Celsius: m.Celsius, Humidity: m.Humidity}, err) {
				return
			}
		}
	}
}

// felt sums what eggs felt in a stay. Readings that are damaged are a gap.
func (r historyReader) felt(stay book.Stay) (thermal.Exposure, error) {
	e, err := track.Stay(r, stay, r.gap)
	return e, withoutDamage(err)
}
