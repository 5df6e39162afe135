package alarmpages

import (
	"slices"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Alarms that overlap in one zone and on one side are told as one, the worst, over the time of
// them all; another side, another zone and another day stand alone.
func TestWorstOfOverlappingAlarms(t *testing.T) {
	day := time.Date(2026, 10, 31, 22, 0, 0, 0, time.UTC)
	one := func(kind, priority, zone string, from, to int) snapshot.PastAlarm {
		a := snapshot.PastAlarm{Alarm: kind, Priority: priority, Zone: &zone, Began: day.Add(time.Duration(from) * time.Hour)}
		if to > 0 {
			end := day.Add(time.Duration(to) * time.Hour)
			a.Ended = &end
		}
		return a
	}
	got := Worst([]snapshot.PastAlarm{
		one("temperature-low", "critical", "shelf", 2, 6), one("drift-down", "warning", "shelf", 0, 3), one("temperature-low", "warning", "shelf", 1, 10),
		one("temperature-high", "warning", "shelf", 4, 5), one("temperature-low", "warning", "room", 4, 5), one("temperature-low", "warning", "shelf", 30, 0), one("temperature-low", "critical", "shelf", 31, 32),
	})
	var said []string
	for _, a := range got {
		text := a.Alarm + " " + a.Priority + " " + *a.Zone + " " + a.Began.Format("2T15")
		if a.Ended != nil {
			text += a.Ended.Format(" 2T15")
		}
		said = append(said, text)
	}
	want := []string{"temperature-low critical shelf 31T22 1T08", "temperature-high warning shelf 1T02 1T03", "temperature-low warning room 1T02 1T03", "temperature-low critical shelf 2T04"}
	if !slices.Equal(said, want) {
		t.Errorf("they are told as\n%q, want\n%q", said, want)
	}
}
