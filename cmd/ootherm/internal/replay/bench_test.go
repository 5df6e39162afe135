package replay_test

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/replay"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/recording"
	"example.com/ootherm/thermal/profile"
)

// made is a recording that makes up its rows as it is read: several probes, a row each ten
// seconds. The noise is that of a room: 0.02 K and 0.2 % (our choice).
type made struct {
	probes, rows, n int
	rng             *rand.Rand
}

func (m *made) Next() (recording.Row, error) {
	if m.n == m.rows {
		return recording.Row{}, io.EOF
	}
	probe, step := m.n%m.probes, m.n/m.probes
	m.n++
	at := benchBegan.Add(time.Duration(step) * 10 * time.Second)
	c := 23.3 + 0.5*math.Sin(float64(step)/1375) + 0.02*m.rng.NormFloat64()
	rh := 0.6 + 0.03*math.Cos(float64(step)/1375) + 0.002*m.rng.NormFloat64()
	return recording.Row{Line: m.n, At: at, Probe: name(probe), Measurement: sensor.Measurement{
		Celsius: math.Round(c*100) / 100, Humidity: math.Round(rh*1e4) / 1e4,
	}}, nil
}

// names are made once: a recording's are not made for each row either.
var names = [...]string{"p0", "p1", "p2", "p3", "p4", "p5", "p6", "p7", "p8", "p9", "p10", "p11"}

func name(probe int) string { return names[probe] }

// BenchmarkReplay runs a week's recording of 12 probes in four zones, with 40 boxes of a clutch
// each, through the whole station.
func BenchmarkReplay(b *testing.B) {
	species, err := profile.Builtin()
	if err != nil {
		b.Fatal(err)
	}
	const probes, boxes, rows = 12, 40, 12 * 7 * 8640
	p := plan.Plan{Name: "bench", Every: 10 * time.Second, Flush: 5 * time.Minute, Profiles: species}
	var lines strings.Builder
	at := benchBegan.Format(time.RFC3339)
	line := func(format string, a ...any) {
		fmt.Fprintf(&lines, `{"key":"k%d","at":%q,`+format+"}\n", append([]any{lines.Len(), at}, a...)...)
	}
	line(`"entry":"dam","dam":"Sorrel","profile":"crested gecko"`)
	for z := range 4 {
		zone := plan.Zone{Name: fmt.Sprintf("z%d", z), Kind: "shelf", Wanted: &plan.Band{Low: new(22.0), High: new(25.0), Deadband: 0.3}}
		for i := range probes / 4 {
			n := name(z*probes/4 + i)
			zone.Probes = append(zone.Probes, n)
			p.Probes = append(p.Probes, plan.Probe{Name: n})
		}
		p.Zones = append(p.Zones, zone)
	}
	for i := range boxes {
		line(`"entry":"box","box":"B%d","zone":"z%d","probe":"p%d"`, i, i%4, i%4*3)
		line(`"entry":"clutch","clutch":"C%d","dam":"Sorrel","eggs":2,"laid_after":%q,"laid_by":%q`, i, at, at)
		line(`"entry":"placed","egg":"C%d-1","box":"B%d","slot":"a"`, i, i)
	}
	noted := entries(b, lines.String())
	began := processorTime(b)
	for b.Loop() {
		r := replay.Replay{Plan: p, Rows: &made{probes: probes, rows: rows, rng: rand.New(rand.NewPCG(5, 5))}, Start: benchBegan, Book: replay.Book{Entries: noted}}
		result, err := r.Run(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		if result.Readings.Accepted != rows || len(result.Now.Boxes) != boxes {
			b.Fatalf("%d readings, %d boxes", result.Readings.Accepted, len(result.Now.Boxes))
		}
	}
	b.ReportMetric(rows*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
	b.ReportMetric(rows*float64(b.N)/(processorTime(b)-began).Seconds(), "readings/CPU-s")
}

// processorTime is what this process has used of all processors. On a machine that does other
// work it says more than the time of day.
func processorTime(b *testing.B) time.Duration {
	var use syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &use); err != nil {
		b.Fatal(err)
	}
	return time.Duration(use.Utime.Nano() + use.Stime.Nano())
}

// benchBegan is the time of the first row in the recordings of these tests.
var benchBegan = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
