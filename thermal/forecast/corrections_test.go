package forecast_test

import (
	"fmt"
	"testing"
	"time"

	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecast/forecasttest"
	"example.com/ootherm/thermal/track"
)

// voidOf is a void of one more entry of a book, both as lines.
func voidOf(day float64, entry string) (said, voided string) {
	at := laid.Add(time.Duration(day * 24 * float64(time.Hour))).Format(time.RFC3339)
	said = fmt.Sprintf(`{"key":"said","at":%q,%s}`+"\n", at, entry)
	return said, said + fmt.Sprintf(`{"key":"void","at":%q,"entry":"void","void":"said"}`+"\n", at)
}

// A correction releases the latch of the clutches whose window it changes, and of no other.
func TestACorrectionReleasesOnlyWhatItChanges(t *testing.T) {
	const day = 72
	y := alone("Y3", "Yarrow", 0)
	s := alone("S1", "Sorrel", 3)
	lines := forecasttest.Book(day, y, s)
	at := func(text string) forecast.House {
		h := houseAt(t, room, day, y, s)
		b := booktest.Fold(t, text)
		h.Groups = track.Groups(b, func(string) (bool, bool) { return false, false })
		h.Corrections = forecast.CorrectionsOf(b)
		h.Track = forecasttest.Tracks(t, h, room)
		return h
	}
	of := func(f *forecast.Forecast, h forecast.House) forecast.Hatch {
		for _, g := range h.Groups {
			if g.Clutch == "Y3" {
				x, _ := f.Of(g)
				return x
			}
		}
		t.Fatal("no such clutch")
		return forecast.Hatch{}
	}
	for _, x := range []struct {
		name, entry string
		want        forecast.State
	}{
		{"a note", `"entry":"note","about":"Y3","text":"a remark"`, forecast.CheckDaily},
		{"a watering", `"entry":"watered","box":"box Y3","water_g":5`, forecast.CheckDaily},
		{"a candling of another clutch", `"entry":"candled","egg":"S1-1","verdict":"fertile"`, forecast.CheckDaily},
		{"a candling of its own", `"entry":"candled","egg":"Y3-1","verdict":"fertile"`, forecast.Incubating},
		{"a hatch of another clutch, far too early", `"entry":"hatched","egg":"S1-1"`, forecast.Incubating},
	} {
		said, voided := voidOf(day-10, x.entry)
		h := at(lines + said)
		h.Latch = func(g *track.Group) forecast.Latch {
			return forecast.Latch{Since: h.Now, Entries: forecast.Entries(h, g)}
		}
		before := forecast.New().Next(h)
		if got := of(before, h).State; got != forecast.CheckDaily {
			t.Fatalf("%s: held, it is %q", x.name, got)
		}
		h = at(lines + voided)
		after := before.Next(h)
		got := of(after, h)
		if now := got.Window.CheckFrom; x.want == forecast.Incubating && !now.After(h.Now) {
			t.Fatalf("%s: check-from is day %.1f, so nothing is held", x.name, daysOf(now))
		}
		if got.State != x.want {
			t.Errorf("%s undone: %q, want %q", x.name, got.State, x.want)
		}
		// What is being rebuilt is no change of the window.
		h = at(lines + voided)
		tracks := h.Track
		h.Track = func(key string) *track.Track {
			for _, g := range h.Groups {
				if g.Clutch == "S1" && g.Track == key {
					return nil
				}
			}
			return tracks(key)
		}
		between := before.Next(h)
		h.Track = tracks
		if got := of(between.Next(h), h); got.State != x.want {
			t.Errorf("%s undone, rebuilt later: %q, want %q", x.name, got.State, x.want)
		}
	}
}
