package words

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// firstHold is what a person does first while an alarm waits for its end (our choice).
const firstHold = "Change nothing while it holds; look again soon."

// otherSide names the alarm of the other end of a band, and what a person must stop doing
// there. It is empty for a kind that has no other side.
func otherSide(kind alert.Kind) (other alert.Kind, stop string) {
	switch kind {
	case alert.TemperatureLow:
		return alert.TemperatureHigh, "Do not add heat."
	case alert.TemperatureHigh:
		return alert.TemperatureLow, "Do not cool it further."
	case alert.HumidityLow:
		return alert.HumidityHigh, "Add no water."
	case alert.HumidityHigh:
		return alert.HumidityLow, "Do not air it further."
	}
	return "", ""
}

// FirstOnRecovery is what a person does first about an alarm whose value is back within its
// limit: the steps of the other side where the value is past that.
func FirstOnRecovery(kind alert.Kind, pastOther bool) string {
	other, stop := otherSide(kind)
	if !pastOther {
		return firstHold
	}
	return stop + " " + Alarm(string(other)).First
}

// Recovered gives the text of an alarm whose value is back within its limit, and how it
// stands now: "was too cold until 17:27", "now 80.1 °F, over in 4 min if it stays". It is
// false for any other alarm.
func Recovered(r Reader, a snapshot.Alarm, n *snapshot.Snapshot) (text AlarmText, figures string, recovered bool) {
	other, _ := otherSide(alert.Kind(a.Alarm))
	if a.Recovery == nil || other == "" {
		return AlarmText{}, "", false
	}
	text = Alarm(a.Alarm)
	text.Wrong = "was " + text.Wrong
	stands := otherStands(a, other, n)
	limit, raisedAt := otherLimit(a, other, n)
	text.First = FirstOnRecovery(alert.Kind(a.Alarm), stands || limit != nil)
	text.Shape = Other
	if stands || limit != nil {
		text.Shape = Alarm(string(other)).Shape
	}
	if stands && a.Recovery.EndsAt != nil {
		return text, "over; closes in " + Span(a.Recovery.EndsAt.Sub(n.At)), true
	}
	if since := a.Recovery.Since; since != nil {
		text.Wrong += " until " + r.When(*since, n.At)
	}
	figures = "now " + r.Value(text.Quantity, a.Value)
	high := other == alert.TemperatureHigh || other == alert.HumidityHigh
	above := "above "
	if !high {
		above = "below "
	}
	switch {
	case limit != nil:
		figures += ", " + above + "the limit " + r.Value(text.Quantity, limit)
		if raisedAt != nil {
			figures += "; an alarm follows in " + Span(raisedAt.Sub(n.At))
		}
	case a.State == string(alert.Returned):
		figures = "over; " + figures
	case a.Recovery.EndsAt != nil:
		figures += ", over in " + Span(a.Recovery.EndsAt.Sub(n.At)) + " if it stays"
	case a.Recovery.Threshold != nil:
		figures += ", not over until it is " + above + r.Value(text.Quantity, a.Recovery.Threshold)
	}
	return text, figures, true
}

// otherStands reports whether an alarm of the other side stands in the same place.
func otherStands(a snapshot.Alarm, other alert.Kind, n *snapshot.Snapshot) bool {
	for _, x := range n.Alarms {
		if x.Alarm == string(other) && x.Stands && x.Recovery == nil && samePlace(x.AlarmPlace, a.AlarmPlace) {
			return true
		}
	}
	return false
}

// otherLimit is the limit of the other side that the value is past, with the time of its
// alarm where an on-delay runs. It is nil where the value is within it.
func otherLimit(a snapshot.Alarm, other alert.Kind, n *snapshot.Snapshot) (limit *float64, raisedAt *time.Time) {
	high := other == alert.TemperatureHigh || other == alert.HumidityHigh
	past := func(limit *float64) bool {
		return limit != nil && a.Value != nil && (high && *a.Value >= *limit || !high && *a.Value <= *limit)
	}
	for _, x := range n.Pending {
		if x.Alarm == string(other) && samePlace(x.AlarmPlace, a.AlarmPlace) && past(x.Limit) && (raisedAt == nil || x.RaisedAt.Before(*raisedAt)) {
			limit, raisedAt = x.Limit, &x.RaisedAt
		}
	}
	if limit != nil {
		return limit, raisedAt
	}
	for _, z := range n.Zones {
		if a.Zone == nil || z.Zone != *a.Zone || a.Box != nil {
			continue
		}
		for _, x := range map[alert.Kind][]*float64{
			alert.TemperatureHigh: {z.Wanted.High, z.Safe.High}, alert.TemperatureLow: {z.Wanted.Low, z.Safe.Low},
			alert.HumidityHigh: {z.HumidityBand.High}, alert.HumidityLow: {z.HumidityBand.Low},
		}[other] {
			if past(x) {
				return x, nil
			}
		}
	}
	return nil, nil
}

// samePlace reports whether two alarms are about the same zone and box.
func samePlace(a, b snapshot.AlarmPlace) bool {
	same := func(x, y *string) bool { return x == nil && y == nil || x != nil && y != nil && *x == *y }
	return same(a.Zone, b.Zone) && same(a.Box, b.Box)
}

// PastSafe says of a warning whose value is past the safe limit when its critical alarm
// follows: "Above safe (91.4 °F). Critical in 9 min." It is empty for any other alarm.
func PastSafe(r Reader, a snapshot.Alarm, n *snapshot.Snapshot) string {
	side := ""
	switch alert.Kind(a.Alarm) {
	case alert.TemperatureHigh:
		side = "Above"
	case alert.TemperatureLow:
		side = "Below"
	}
	if side == "" || a.Priority != string(alert.Warning) || a.Value == nil {
		return ""
	}
	for _, x := range n.Pending {
		if x.Alarm != a.Alarm || x.Priority != string(alert.Critical) || x.Limit == nil || !samePlace(x.AlarmPlace, a.AlarmPlace) {
			continue
		}
		if side == "Above" && *a.Value >= *x.Limit || side == "Below" && *a.Value <= *x.Limit {
			return side + " safe (" + r.Temperature(*x.Limit) + "). Critical in " + Span(x.RaisedAt.Sub(n.At)) + "."
		}
	}
	return ""
}
