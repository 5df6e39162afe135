package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// breedingRoom is a station with a book: boxes of two clutches each that wait, and as many
// clutches in each season before.
type breedingRoom struct{ boxes, zones, probes, seasons int }

func (x breedingRoom) snapshot() *snapshot.Snapshot {
	n := season()
	n.Zones, n.Boxes, n.Unplaced, n.Alarms = nil, nil, nil, n.Alarms[:1]
	for z := range x.zones {
		zone := season().Zones[1]
		zone.Zone, zone.Probes = fmt.Sprintf("z%d", z), nil
		for p := range x.probes / x.zones {
			zone.Probes = append(zone.Probes, okProbe(fmt.Sprintf("p%d-%d", z, p), 23.4, 0.6, 4))
		}
		n.Zones = append(n.Zones, zone)
	}
	for i := range x.boxes {
		n.Boxes = append(n.Boxes, box(fmt.Sprintf("B%d", i), fmt.Sprintf("z%d", i%x.zones), "",
			clutch(fmt.Sprintf("S%d", i), "Sorrel", float64(i%41)/41, 3+i%60, 9+i%60, 17+i%60, "waiting", "waiting"),
			clutch(fmt.Sprintf("T%d", i), "Tansy", float64(i%60)/60, 30+i%60, 39+i%60, 57+i%60, "waiting", "lost")))
	}
	return n
}

func (x breedingRoom) book() string {
	var b strings.Builder
	key := 0
	line := func(at time.Time, format string, a ...any) {
		key++
		fmt.Fprintf(&b, `{"key":"k%d","at":%q,`+format+"}\n", append([]any{key, at.Format(time.RFC3339)}, a...)...)
	}
	begin := at.AddDate(-x.seasons, 0, 0)
	for _, dam := range []string{"Sorrel", "Tansy"} {
		line(begin, `"entry":"dam","dam":%q,"profile":"crested gecko"`, dam)
	}
	for i := range x.boxes {
		line(begin, `"entry":"box","box":"B%d","zone":"z%d"`, i, i%x.zones)
	}
	laid := func(name, dam string, day time.Time) {
		line(day, `"entry":"clutch","clutch":%q,"dam":%q,"eggs":2,"laid_after":%q,"laid_by":%q`, name, dam, day.Format(time.RFC3339), day.Format(time.RFC3339))
	}
	for s := range x.seasons {
		for i := range x.boxes {
			day := begin.AddDate(s, 0, i%90)
			name := fmt.Sprintf("Q%d-%d", s, i)
			laid(name, "Sorrel", day)
			for e := range 2 {
				line(day.AddDate(0, 0, 75+i%9), `"entry":"hatched","egg":"%s-%d"`, name, e+1)
			}
		}
	}
	for i := range x.boxes {
		for _, c := range []string{"S", "T"} {
			laid(fmt.Sprintf("%s%d", c, i), map[string]string{"S": "Sorrel", "T": "Tansy"}[c], at.AddDate(0, 0, -60))
		}
	}
	return b.String()
}

// BenchmarkPages renders pages, compressed, as they come once a minute: the traces of the last
// day are made again each time. The readings are made up in memory, one in ten seconds of each
// probe, so that the reading of a store is left out.
func BenchmarkPages(b *testing.B) {
	for name, room := range map[string]breedingRoom{
		"40 boxes and a season":       {boxes: 40, zones: 3, probes: 12, seasons: 1},
		"500 boxes and three seasons": {boxes: 500, zones: 8, probes: 32, seasons: 3},
	} {
		d := &desk{}
		d.add(b, room.book())
		clock, n := at, room.snapshot()
		o := options(n)
		o.Past, o.Writer, o.Book, o.Clock = past{every: 10 * time.Second}, d, d, func() time.Time { return clock }
		h := handler(b, o)
		for _, target := range []string{"/", "/z/z0?span=season", "/b/B1", "/c/S1", "/review"} {
			b.Run(name+target, func(b *testing.B) {
				bytes := 0
				for b.Loop() {
					clock = clock.Add(time.Minute)
					n.At = clock
					w := ask(h, target, here, with("Accept-Encoding", "gzip"))
					if w.Code != http.StatusOK {
						b.Fatalf("status %d", w.Code)
					}
					bytes = w.Body.Len()
				}
				b.ReportMetric(float64(bytes)/1000, "kB")
				b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/page")
			})
		}
	}
}
