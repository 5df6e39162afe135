package config

import (
	"fmt"
	"time"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Spell is a band that applies in a part of the day, a part of the year, or both.
type Spell struct {
	From, To time.Duration // after midnight; over midnight if To is earlier; all day if equal
	Season   Season
	Band     Band
}

// Season is a part of the year and includes both days. It runs over New Year if To is
// earlier. The zero value is the whole year.
type Season struct{ From, To Day }

// Day is a day of any year.
type Day struct {
	Month time.Month
	Day   int
}

// number orders days of a year.
func (d Day) number() int { return int(d.Month)*100 + d.Day }

// contains reports whether a local time lies in the season.
func (s Season) contains(t time.Time) bool {
	at, from, to := Day{t.Month(), t.Day()}.number(), s.From.number(), s.To.number()
	switch {
	case s == Season{}:
		return true
	case from <= to:
		return from <= at && at <= to
	}
	return at >= from || at <= to
}

// contains reports whether a local time lies in the spell's hours and season.
func (s Spell) contains(t time.Time) bool {
	at := time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute + time.Duration(t.Second())*time.Second
	hours := s.From == s.To || s.From < s.To && s.From <= at && at < s.To || s.From > s.To && (at >= s.From || at < s.To)
	return hours && s.Season.contains(t)
}

// At returns the band in force at a local time. It returns nil for a nil band, and the same
// pointer as long as the same band is in force.
func (b *Band) At(local time.Time) *Band {
	if b == nil {
		return nil
	}
	for i := range b.Spells {
		if b.Spells[i].contains(local) {
			return &b.Spells[i].Band
		}
	}
	return b
}

// All returns the bands that can be in force: the band of each spell, then b itself.
func (b *Band) All() []*Band {
	if b == nil {
		return nil
	}
	all := make([]*Band, 0, len(b.Spells)+1)
	for i := range b.Spells {
		all = append(all, &b.Spells[i].Band)
	}
	return append(all, b)
}

// bandReader reads bands of one unit, with its defaults.
type bandReader struct {
	end      func(*table, string) *float64 // reads low or high
	deadband func(*table) float64
	on, off  time.Duration // default delays
}

// The two kinds of bands.
var (
	celsiusBands = bandReader{end: (*table).celsius, deadband: func(b *table) float64 {
		return b.kelvins("deadband", defaultDeadband)
	}, on: defaultOnDelay, off: defaultOffDelay}

	humidityBands = bandReader{end: (*table).ratio, deadband: func(b *table) float64 {
		if d := b.ratio("deadband"); d != nil {
			return *d
		}
		return defaultHumidityDeadband
	}, on: defaultHumidityOnDelay, off: defaultHumidityOffDelay}
)

// temperatureBands reads the bands wanted and safe. Wanted must lie within safe. Only a
// zone's bands may have spells.
func temperatureBands(t *table, allowSpells bool) (wanted, safe *Band) {
	read := celsiusBands.always
	if allowSpells {
		read = celsiusBands.bySpell
	}
	wanted, safe = read(t, "wanted"), read(t, "safe")
	if wanted == nil || safe == nil {
		return wanted, safe
	}
	low, high := false, false
	for at := range changeTimes(wanted, safe) {
		w, s := wanted.At(at), safe.At(at)
		low = low || w.Low != nil && s.Low != nil && *w.Low < *s.Low-roundingError
		high = high || w.High != nil && s.High != nil && *w.High > *s.High+roundingError
	}
	if low {
		t.fault("wanted", "low is below the low of safe: the critical alarm would come before the warning; move one of the two")
	}
	if high {
		t.fault("wanted", "high is above the high of safe: the critical alarm would come before the warning; move one of the two")
	}
	return wanted, safe
}

// changeTimes yields the times of a leap year at which one of the bands can change.
func changeTimes(bands ...*Band) func(func(time.Time) bool) {
	at := map[time.Duration]bool{0: true}
	for _, b := range bands {
		for _, s := range b.Spells {
			at[s.From], at[s.To] = true, true
		}
	}
	return func(yield func(time.Time) bool) {
		for day := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC); day.Year() == 2024; day = day.AddDate(0, 0, 1) {
			for d := range at {
				if !yield(day.Add(d)) {
					return
				}
			}
		}
	}
}

// bySpell reads a band, or a list of bands by hour and season.
func (r bandReader) bySpell(t *table, name string) *Band {
	if n := t.node.find(name); n == nil || n.node.kind != unstable.Array {
		return r.always(t, name)
	}
	all := t.sections(name)
	var b *Band
	for i, s := range all {
		x := Spell{}
		timed := false
		if s.node.find("from") != nil || s.node.find("to") != nil {
			timed = true
			x.From, x.To = s.hour("from"), s.hour("to")
		}
		if s.node.find("season") != nil {
			timed = true
			x.Season = s.season("season")
		}
		x.Band = *r.band(s)
		switch last := i == len(all)-1; {
		case last && timed:
			s.fault("", "is the last and does not always apply; end the list with a band without from, to and season, for the rest of the time")
		case last:
			if b != nil {
				x.Band.Spells = b.Spells
			}
			b = &x.Band
		case !timed:
			s.fault("", "always applies, so the bands after it never do; give it from and to, or a season, or move it to the end")
		default:
			if b == nil {
				b = &Band{}
			}
			b.Spells = append(b.Spells, x)
		}
	}
	if len(all) == 0 {
		t.fault(name, "is an empty list; write a band: { low = ..., high = ... }")
	}
	return b
}

// hour reads a time of day. The key must be there.
func (t *table) hour(name string) time.Duration {
	const how = `write from and to: from = "22:00", to = "07:00"`
	text := t.text(name)
	if text == "" {
		if t.node.find(name) == nil {
			t.missing(name, how)
		}
		return 0
	}
	at, err := timeOfDay(text)
	if err != nil {
		t.fault(name, "%v", err)
	}
	return at
}

// timeOfDay reads a time of day from 00:00 to 23:59.
func timeOfDay(text string) (time.Duration, error) {
	at, err := time.Parse("15:04", text)
	if err != nil || len(text) != len("15:04") {
		return 0, fmt.Errorf(`%q is not a time of day; write "22:00"`, text)
	}
	return time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute, nil
}

// season reads a part of the year.
func (t *table) season(name string) Season {
	const how = `a season: { from = "1 Nov", to = "15 Mar" }`
	s := t.section(name, how)
	if s == nil {
		return Season{}
	}
	day := func(key string) Day {
		text := s.text(key)
		if text == "" {
			if s.node.find(key) == nil {
				s.missing(key, "write "+how)
			}
			return Day{}
		}
		d, err := time.Parse("2 Jan 2006", text+" 2024") // a leap year has every day
		if err != nil {
			s.fault(key, `%q is not a day of the year; write "1 Nov"`, text)
			return Day{}
		}
		return Day{d.Month(), d.Day()}
	}
	v := Season{From: day("from"), To: day("to")}
	s.done()
	return v
}

// always reads one band: a range, its deadband and its delays.
func (r bandReader) always(t *table, name string) *Band {
	b := t.section(name, "a band: { low = ..., high = ... }")
	if b == nil {
		return nil
	}
	return r.band(b)
}

// band reads the band of a section.
func (r bandReader) band(b *table) *Band {
	v := &Band{Low: r.end(b, "low"), High: r.end(b, "high"), Deadband: r.deadband(b), OnDelay: b.span("on_delay", r.on), OffDelay: b.span("off_delay", r.off)}
	if b.node.find("low") == nil && b.node.find("high") == nil {
		b.missing("", "write low, high or both")
	}
	if v.Deadband < 0 {
		b.fault("deadband", "is negative; it is how far back inside the band before the alarm ends")
	}
	if v.Low != nil && v.High != nil {
		if width := *v.High - *v.Low; width <= roundingError {
			b.fault("low", "is not below high; exchange the two, or widen the band")
		} else if v.Deadband >= width-roundingError {
			b.fault("deadband", "is as wide as the band itself: an alarm could never end; narrow it")
		}
	}
	b.done()
	return v
}
