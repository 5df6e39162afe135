package benchtest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
)

// House is a room with years of readings and a book, all invented: its zones take turns in
// having one of its probes and one of its boxes. The boxes have no probes of their own.
type House struct {
	Zones, Probes, Boxes int
	// Seasons follow one another until now, of so many days each. In each season one clutch
	// lies in each box. Those of the seasons before the last have hatched.
	Seasons, Days int
	Now           time.Time
}

// ThreeSeasons is the house that promises are made for: 12 probes and 40 boxes.
func ThreeSeasons(now time.Time) House {
	return House{Zones: 4, Probes: 12, Boxes: 40, Seasons: 3, Days: 200, Now: now.UTC().Truncate(time.Second)}
}

const houseInterval = 10 * time.Second // between the readings of a probe

func (h House) began() time.Time {
	return h.Now.Add(-time.Duration(h.Seasons*h.Days) * 24 * time.Hour)
}

// Config is the station's configuration. The first probe reads 26 C: too warm for its zone.
func (h House) Config(data, listen string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "[station]\nname = \"egg room\"\ntime_zone = \"UTC\"\ndata = %q\nlisten = %q\nevery = %q\n", data, listen, houseInterval)
	for i := range h.Probes {
		celsius := 23.3
		if i == 0 {
			celsius = 26
		}
		fmt.Fprintf(&b, "[[probe]]\nname = \"p%d\"\ndriver = \"simulated\"\ncelsius = %g\n", i, celsius)
	}
	for z := range h.Zones {
		var probes []string
		for i := z; i < h.Probes; i += h.Zones {
			probes = append(probes, fmt.Sprintf("%q", fmt.Sprintf("p%d", i)))
		}
		fmt.Fprintf(&b, "[[zone]]\nname = \"z%d\"\nkind = \"shelf\"\nprobes = [%s]\nwanted = { low = \"22C\", high = \"25C\", on_delay = \"0s\" }\nhumidity = { low = \"45%%\", high = \"75%%\" }\n", z, strings.Join(probes, ", "))
	}
	return b.String()
}

// Book is the book's entries, one line each.
func (h House) Book() (string, error) {
	var b strings.Builder
	lines := json.NewEncoder(&b)
	n := 0
	var failed error
	add := func(at time.Time, e book.Entry) {
		n++
		e.Key, e.At = fmt.Sprintf("house-%d", n), at
		failed = errors.Join(failed, lines.Encode(e))
	}
	add(h.began(), book.Entry{Kind: "dam", Dam: book.Names{"Sorrel"}, Profile: "crested gecko"})
	for i := range h.Boxes {
		add(h.began(), book.Entry{Kind: "box", Box: fmt.Sprintf("B%d", i), Zone: fmt.Sprintf("z%d", i%h.Zones)})
	}
	day := func(share float64) time.Duration {
		return time.Duration(share * float64(h.Days) * float64(24*time.Hour)).Truncate(time.Second)
	}
	// Of the crested gecko at 23 C hatchlings come after three months (common practice): of a
	// season of 200 days that is this share.
	incubated := day(0.45)
	for season := range h.Seasons {
		for i := range h.Boxes {
			end := h.Now.Add(-time.Duration((h.Seasons-1-season)*h.Days) * 24 * time.Hour)
			laid := end.Add(-day(0.1 + 0.3*float64(i)/float64(h.Boxes)))
			if season < h.Seasons-1 {
				laid = laid.Add(-incubated)
			}
			clutch := fmt.Sprintf("S%dC%d", season, i)
			add(laid, book.Entry{Kind: "clutch", Clutch: clutch, Dam: book.Names{"Sorrel"}, Eggs: 2, LaidAfter: laid.Add(-12 * time.Hour), LaidBy: laid})
			for egg, slot := range []string{"a", "b"} {
				name := fmt.Sprintf("%s-%d", clutch, egg+1)
				add(laid, book.Entry{Kind: "placed", Egg: name, Box: fmt.Sprintf("B%d", i), Slot: slot})
				if season < h.Seasons-1 {
					add(laid.Add(incubated+time.Duration(egg)*time.Hour), book.Entry{Kind: "hatched", Egg: name})
				}
			}
		}
	}
	return b.String(), failed
}

// Fill writes the readings of all seasons into a data folder, as a station does that ran
// throughout.
func (h House) Fill(ctx context.Context, data string) (err error) {
	files, err := storage.Open(ctx, data, storage.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, files.Close()) }()
	db, err := files.Readings(ctx)
	if err != nil {
		return err
	}
	db.NoSync = true // the folder is the test's
	store, err := history.Open(db, history.Options{})
	if err != nil {
		return err
	}
	boot, err := store.Begin("the seasons", h.began(), time.Second, true)
	if err != nil {
		return err
	}
	for i := range h.Seasons * h.Days {
		for p := range h.Probes {
			if err := store.Append(h.day(p, i, boot.Number)); err != nil {
				return err
			}
		}
		if err := store.Flush(); err != nil {
			return err
		}
	}
	return db.Sync()
}

// day is what a probe reads on one day of the seasons. The air has a thermostat's cycle, a
// course of the day and weather. The noise is that of the SHT4x's data sheet (0.04 K and 0.08 %
// repeatability, taken as three standard deviations), in steps of 0.01 K and 0.01 %; a
// reading is up to some milliseconds late (our choice).
func (h House) day(probe, day int, boot uint32) []sensor.Reading {
	rng := rand.New(rand.NewPCG(uint64(probe), uint64(day)))
	name := fmt.Sprintf("p%d", probe)
	readings := make([]sensor.Reading, 0, 24*time.Hour/houseInterval)
	for at := time.Duration(day) * 24 * time.Hour; at < time.Duration(day+1)*24*time.Hour; at += houseInterval {
		hours := at.Hours()
		celsius := 23.3 + 0.1*float64(probe) - 0.5 + 0.3*math.Sin(2*math.Pi*hours*1.7) + 0.4*math.Sin(2*math.Pi*hours/24) + 0.3*math.Sin(2*math.Pi*hours/(24*11)) + rng.NormFloat64()*0.04/3
		humidity := 0.6 - 0.03*math.Sin(2*math.Pi*hours/24) + rng.NormFloat64()*0.0008/3
		readings = append(readings, sensor.Reading{
			Probe: name, Stamp: sensor.Stamp{Boot: boot, Uptime: at + time.Duration(rng.IntN(8))*time.Millisecond},
			Measurement: sensor.Measurement{Celsius: math.Round(celsius*100) / 100, Humidity: math.Round(humidity*1e4) / 1e4},
		})
	}
	return readings
}
