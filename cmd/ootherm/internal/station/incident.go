package station

import (
	"iter"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/incident"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// Retrospect hands over what is needed to look back. Only the station's goroutine calls its
// methods; what they give is read beside the station.
type Retrospect struct{ station *Station }

// Retrospect hands over what is needed to look back.
func (s *Station) Retrospect() Retrospect { return Retrospect{s} }

// Incident is for looking back at a span of one zone or, for an empty name, of all.
func (h Retrospect) Incident(from, to time.Time, zone string) (incident.Query, error) {
	s := h.station
	if s.now.Before(to) {
		to = s.now
	}
	r, peaks := s.past.Reader(), s.journal.Peaks()
	q := incident.Query{
		From: from, To: to, Zone: zone, Plan: s.o.Plan, Fresh: r.Fresh, Gap: r.Gap,
		Readings: func(probes []string, from, to time.Time) iter.Seq2[incident.Reading, error] {
			return incidentReadings(r, probes, from, to)
		},
		Hourly: func(probe string, from, to time.Time) iter.Seq2[incident.Hour, error] {
			return incidentHours(s.past, probe, from, to)
		},
		Felt: r.Felt, Shown: s.windows.Logged,
		Alarms: func(from, to time.Time) ([]snapshot.PastAlarm, error) { return s.journal.PastAlarms(peaks, from, to) },
	}
	for _, g := range s.exposures.Groups() {
		if !slices.ContainsFunc(g.Stays, func(y book.Stay) bool { return y.From.Before(to) && (y.To.IsZero() || y.To.After(from)) }) {
			continue
		}
		rate, err := s.windows.Rate(g, s.now)
		if err != nil {
			return q, err
		}
		q.Clutches = append(q.Clutches, incidentClutch(g, rate, from))
	}
	return q, nil
}

// incidentClutch is a group as it was when an incident began.
func incidentClutch(g *track.Group, rate thermal.Rate, from time.Time) incident.Clutch {
	c := incident.Clutch{Clutch: g.Clutch, Profile: g.Profile, Box: g.Box, Dams: g.Dams, Stays: g.Stays, Rate: rate}
	for _, e := range g.Eggs {
		if track.Undecided(e) || e.FateAt.After(from) {
			c.Eggs++
		}
	}
	return c
}

func incidentReadings(r pastreadings.Reader, probes []string, from, to time.Time) iter.Seq2[incident.Reading, error] {
	return func(yield func(incident.Reading, error) bool) {
		for p, err := range r.Believed(probes, from, to) {
			if !yield(incident.Reading(p), err) {
				return
			}
		}
	}
}

func incidentHours(past *pastreadings.Past, probe string, from, to time.Time) iter.Seq2[incident.Hour, error] {
	return func(yield func(incident.Hour, error) bool) {
		for x, err := range past.Hourly(probe, from, to) {
			h := incident.Hour{
				From: x.From, To: x.To, Measured: x.Measured,
				Celsius:  incident.Extremes{Least: x.Celsius.Least, Most: x.Celsius.Most},
				Humidity: incident.Extremes{Least: x.Humidity.Least, Most: x.Humidity.Most},
			}
			h.HumidityAccuracy, h.Recalibrated = past.HourlyAccuracy(probe, x)
			if !yield(h, err) {
				return
			}
		}
	}
}
