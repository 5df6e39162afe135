package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
)

// house is a station with so many boxes, zones and probes, and a book of so many seasons. In
// each of them every box held a clutch of two eggs, which were candled; all but those of the
// last season hatched.
func house(tb testing.TB, boxes, zones, probes, seasons int) page.Options {
	tb.Helper()
	n := season()
	n.Boxes, n.Unplaced, n.Zones = nil, nil, nil
	for z := range zones {
		x := snapshot.Zone{Zone: fmt.Sprintf("zone %d", z), Celsius: ptr(23.5), Humidity: ptr(0.5), Wanted: snapshot.Band{Low: ptr(22.2), High: ptr(24.4)}, Safe: snapshot.Band{Low: ptr(20.0), High: ptr(26.7)}}
		for p := range probes / zones {
			x.Probes = append(x.Probes, okProbe(fmt.Sprintf("probe %d %d", z, p), 23.5, 0.5, 5))
		}
		n.Zones = append(n.Zones, x)
	}
	var entries []book.Entry
	note := func(e book.Entry) {
		e.Key = fmt.Sprintf("k%d", len(entries))
		entries = append(entries, e)
	}
	begin := at.AddDate(1-seasons, 0, -60)
	for d := range 20 {
		note(book.Entry{At: begin, Kind: book.KindDam, Dam: book.Names{fmt.Sprintf("Dam %d", d)}, Profile: "crested gecko"})
	}
	for b := range boxes {
		note(book.Entry{At: begin, Kind: book.KindBox, Box: fmt.Sprintf("B%d", b), Zone: fmt.Sprintf("zone %d", b%zones)})
	}
	for s := range seasons {
		laid := begin.AddDate(s, 0, 1)
		for b := range boxes {
			id, dam, name := fmt.Sprintf("C%d-%d", s, b), fmt.Sprintf("Dam %d", b%20), fmt.Sprintf("B%d", b)
			note(book.Entry{At: laid, Kind: book.KindClutch, Clutch: id, Dam: book.Names{dam}, Eggs: 2, LaidAfter: laid.Add(-24 * time.Hour), LaidBy: laid})
			for e := range 2 {
				egg := book.EggID(id, e+1)
				note(book.Entry{At: laid, Kind: book.KindPlaced, Egg: egg, Box: name, Slot: string(rune('a' + e))})
				note(book.Entry{At: laid.AddDate(0, 0, 20), Kind: book.KindCandled, Egg: egg, Verdict: book.Fertile})
				if s < seasons-1 {
					note(book.Entry{At: laid.AddDate(0, 0, 80), Kind: book.KindHatched, Egg: egg})
				}
			}
			if s == seasons-1 {
				n.Boxes = append(n.Boxes, box(name, fmt.Sprintf("zone %d", b%zones), "", clutch(id, dam, 0.6, 20, 26, 34, "waiting", "waiting")))
			}
		}
	}
	folded, err := book.Fold(entries)
	if err != nil {
		tb.Fatal(err)
	}
	d := &desk{b: folded}
	o := options(n)
	o.Writer, o.Book, o.Profiles = d, d, []string{"crested gecko"}
	return o
}

// BenchmarkPages renders each kind of page: of 40 boxes with a season behind them, and of 500
// boxes, 32 probes and three seasons. Goals: 50 and 300 ms (our choice).
func BenchmarkPages(b *testing.B) {
	for size, o := range map[string]page.Options{"40 boxes": house(b, 40, 2, 6, 2), "500 boxes": house(b, 500, 8, 32, 3)} {
		o.Past = past{every: time.Minute}
		h := handler(b, o)
		last := "C1-7"
		if strings.HasPrefix(size, "500") {
			last = "C2-7"
		}
		for _, target := range []string{"/", "/z/zone%201", "/p/probe%201%200", "/b/B7", "/c/" + last, "/e/" + last + "-1", "/d/Dam%201", "/review", "/note", "/noted?page=3", "/search?q=c1", "/hatchlings", "/medium"} {
			b.Run(size+" "+strings.ReplaceAll(target, "/", "_"), func(b *testing.B) {
				for b.Loop() {
					if w := get(h, target); w.Code != http.StatusOK {
						b.Fatalf("%s: status %d", target, w.Code)
					}
				}
			})
		}
	}
}
