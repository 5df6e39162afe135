// Package demo is an invented season: a room with crested and gargoyle geckos on
// a shelf, an incubator with a second species, fifty days of their warmth, and a
// heater that has just failed. Nobody and nothing in it is real.
package demo

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal/book"
)

// Days is how much of the season lies behind.
const Days = 50

// Every is how far apart the readings of the past lie.
const Every = time.Minute

// Season is the invented season as seen from one moment.
type Season struct {
	now   time.Time
	began time.Time
}

// New is the season that has run for Days days by now.
func New(now time.Time) Season {
	now = now.UTC().Truncate(time.Second)
	return Season{now: now, began: now.Add(-Days * 24 * time.Hour)}
}

// Began is when the season's first reading was taken.
func (s Season) Began() time.Time { return s.began }

// Config is the station's configuration, to listen at an address and keep its
// data in a folder.
func (s Season) Config(listen, data string) string {
	return fmt.Sprintf(`# An invented season.
[station]
name      = "egg room"
units     = "fahrenheit"
time_zone = "UTC"
listen    = %q
data      = %q
every     = "10s"

[[probe]]
name   = "shelf air"
driver = "simulated"

[[probe]]
name   = "dummy box"
driver = "simulated"

[[probe]]
name   = "incubator"
driver = "simulated"

[[zone]]
name      = "shelf"
kind      = "shelf"
probes    = ["shelf air", "dummy box"]
set_point = "74F"
wanted    = { low = "72F", high = "76F", deadband = "0.5F", on_delay = "10m", off_delay = "5m" }
humidity  = { low = "45%%", high = "70%%", deadband = "2%%", on_delay = "30m", off_delay = "10m" }

[[zone]]
name      = "incubator"
kind      = "incubator"
probes    = ["incubator"]
set_point = "82F"
wanted    = { low = "80F", high = "84F", deadband = "0.5F", on_delay = "10m", off_delay = "5m" }
`, listen, data)
}

// Probes are the names of the season's probes.
func Probes() []string { return []string{"shelf air", "dummy box", "incubator"} }

// What happened, counted back from now.
const (
	heaterFailed = 29*24*time.Hour + 3*time.Hour // for five hours, one night
	powerCut     = 17*24*time.Hour + 2*time.Hour // for two hours and ten minutes
	drifting     = 95 * time.Minute              // the shelf's heater, until now and on
)

// Measure is what a probe gives at a time; false while the power is off.
func (s Season) Measure(probe string, at time.Time) (sensor.Measurement, bool) {
	ago := s.now.Sub(at)
	if ago <= powerCut && ago > powerCut-130*time.Minute {
		return sensor.None(), false
	}
	day := 2 * math.Pi * float64(at.Unix()%86400-15*3600) / 86400
	weather := math.Sin(2 * math.Pi * at.Sub(s.began).Hours() / (24 * 11))
	noise := func(k float64, salt uint64) float64 { return k * hash(uint64(at.Unix())*31+salt) }
	switch probe {
	case "shelf air":
		return sensor.Measurement{
			Celsius:  23.4 + 0.45*math.Cos(day) + 0.25*weather - s.fall(ago, 1) + noise(0.03, 1),
			Humidity: 0.55 - 0.03*math.Cos(day) - 0.02*weather + noise(0.003, 2),
		}, true
	case "dummy box":
		return sensor.Measurement{
			Celsius:  23.3 + 0.3*math.Cos(day-0.6) + 0.2*weather - s.fall(ago, 0.85) + noise(0.02, 3),
			Humidity: math.NaN(), // buried in medium, it would tell wetness and no more
		}, true
	case "incubator":
		return sensor.Measurement{
			Celsius:  27.9 + 0.25*math.Sin(2*math.Pi*float64(at.Unix()%1500)/1500) + 0.05*weather + noise(0.02, 5),
			Humidity: 0.8 + noise(0.01, 6),
		}, true
	}
	return sensor.None(), false
}

// fall is how far the shelf has cooled below its course: while its heater was
// off it nears what the room has without it, and comes back as slowly.
func (s Season) fall(ago time.Duration, share float64) float64 {
	const depth, tau = 4.5, 150.0 // K, minutes
	cooled := func(since time.Duration) float64 {
		if since <= 0 {
			return 0
		}
		return 1 - math.Exp(-since.Minutes()/tau)
	}
	night := cooled(heaterFailed-ago) - cooled(heaterFailed-5*time.Hour-ago)
	return share * depth * (night + cooled(drifting-ago))
}

// hash is noise of about one standard deviation that is the same each time.
func hash(x uint64) float64 {
	x ^= x >> 33
	x *= 0xff51afd7ed558ccd
	x ^= x >> 33
	x *= 0xc4ceb9fe1a85ec53
	x ^= x >> 33
	return (float64(x>>11)/float64(1<<53) - 0.5) * 3.4
}

// Book is what the breeder noted.
func (s Season) Book() ([]book.Entry, error) {
	b := writer{at: s.began}
	for _, d := range [...]struct{ dam, profile string }{
		{"Sorrel", "crested gecko"}, {"Tansy", "crested gecko"}, {"Lovage", "crested gecko"},
		{"Yarrow", "gargoyle gecko"}, {"Borage", "gargoyle gecko"}, {"Hyssop", "leopard gecko"},
	} {
		b.add(0, `"entry":"dam","dam":%q,"profile":%q`, d.dam, d.profile)
	}
	for _, x := range [...]struct{ box, zone, probe string }{
		{"B1", "shelf", "dummy box"}, {"B2", "shelf", "dummy box"}, {"B3", "shelf", ""}, {"N1", "incubator", ""},
	} {
		probe := ""
		if x.probe != "" {
			probe = fmt.Sprintf(`,"probe":%q`, x.probe)
		}
		b.add(0, `"entry":"box","box":%q,"zone":%q%s,"medium":"vermiculite","dry_g":40,"water_g":40,"total_g":112`, x.box, x.zone, probe)
	}
	b.clutch(1, "S1", "Sorrel", 2, 1, "B1", "a", "b")
	b.clutch(3, "T1", "Tansy", 2, 1, "B1", "c", "d")
	b.clutch(6, "Y1", "Yarrow", 2, 2, "B2", "a", "b")
	b.clutch(8, "L1", "Lovage", 1, 3, "B1", "e")
	b.clutch(14, "H1", "Hyssop", 2, 1, "N1", "a", "b")
	b.clutch(21, "O1", "Borage", 2, 1, "B2", "c", "d")
	b.add(22, `"entry":"candled","egg":"S1-1","verdict":"fertile"`)
	b.add(22, `"entry":"candled","egg":"S1-2","verdict":"fertile"`)
	b.add(22, `"entry":"candled","egg":"T1-1","verdict":"fertile"`)
	b.add(24, `"entry":"lost","egg":"T1-2","why":"mould"`)
	b.clutch(31, "S2", "Sorrel", 2, 1, "B3", "a", "b")
	b.clutch(36, "T2", "Tansy", 2, 2, "B3", "c", "d")
	b.clutch(40, "H2", "Hyssop", 2, 1, "N1", "c", "d")
	b.add(43, `"entry":"weighed","box":"B1","total_g":108`)
	b.add(43, `"entry":"watered","box":"B1","water_g":4`)
	return book.ReadAll(strings.NewReader(b.String()))
}

// writer writes the book's lines, each with a key of its own.
type writer struct {
	strings.Builder
	at time.Time
	n  int
}

func (w *writer) add(day float64, format string, a ...any) {
	w.n++
	at := w.at.Add(time.Duration(day*24*float64(time.Hour)) + time.Duration(w.n)*time.Minute)
	fmt.Fprintf(&w.Builder, `{"key":"demo-%03d","at":%q,`, w.n, at.Format(time.RFC3339))
	fmt.Fprintf(&w.Builder, format+"}\n", a...)
}

// clutch notes eggs found on a day, the last look without eggs so many days
// before, and each egg placed.
func (w *writer) clutch(day float64, id, dam string, eggs int, looked float64, box string, slots ...string) {
	found := w.at.Add(time.Duration(day * 24 * float64(time.Hour)))
	before := found.Add(-time.Duration(looked * 24 * float64(time.Hour)))
	w.add(day, `"entry":"clutch","clutch":%q,"dam":%q,"eggs":%d,"laid_after":%q,"laid_by":%q`,
		id, dam, eggs, before.Format(time.RFC3339), found.Format(time.RFC3339))
	for i, slot := range slots {
		w.add(day, `"entry":"placed","egg":"%s-%d","box":%q,"slot":%q`, id, i+1, box, slot)
	}
}
