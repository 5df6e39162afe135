package replay_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/replay"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
)

const testdata = "../../../../testdata/"

// write puts text into a file of the test's own folder.
func write(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func entries(t testing.TB, lines string) []book.Entry {
	t.Helper()
	all, err := book.ReadAll(strings.NewReader(lines))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// oneClutch is a book of one clutch, laid and placed at one time.
func oneClutch(at time.Time, profile, zone string) string {
	const form = `{"key":"a1","at":%[1]q,"entry":"dam","dam":"Sorrel","profile":%[2]q}
{"key":"a2","at":%[1]q,"entry":"box","box":"B1","zone":%[3]q}
{"key":"a3","at":%[1]q,"entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":1,"laid_after":%[1]q,"laid_by":%[1]q}
{"key":"a4","at":%[1]q,"entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`
	return fmt.Sprintf(form, at.Format(time.RFC3339), profile, zone)
}

func replayed(t testing.TB, o replay.Options) replay.Result {
	t.Helper()
	r, err := replay.Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// An hourly recording of an office with ten gaps gives the known heat above 15 C, with the
// gaps bridged and left out, and the known episodes above 76 F by deadband.
func TestReplayOffice(t *testing.T) {
	first := time.Date(2013, 7, 4, 0, 0, 0, 0, time.UTC)
	want := []struct {
		deadband string
		episodes int
	}{{"0F", 182}, {"0.5F", 126}, {"1F", 88}, {"2F", 45}}
	config := `
[station]
name = "office"
[[profile]]
name        = "by hand"
base        = "15C"
degree_days = 3000
`
	var columns []string
	for i, c := range want { // the same probe in four zones
		config += fmt.Sprintf(`
[[probe]]
name   = "office %[1]d"
driver = "recording"
[[zone]]
name   = "office %[1]d"
kind   = "room"
probes = ["office %[1]d"]
wanted = { high = "76F", deadband = %[2]q, on_delay = "0s", off_delay = "0s" }
`, i, c.deadband)
		columns = append(columns, fmt.Sprintf("office %d=value", i))
	}
	r := replayed(t, replay.Options{
		Config: write(t, "office.toml", config), Readings: testdata + "rooms/office-hourly-fahrenheit.csv",
		Columns: columns, TimeColumn: "timestamp", Fahrenheit: true,
		Book: replay.Book{Entries: entries(t, oneClutch(first, "by hand", "office 0"))},
	})
	for i, c := range want {
		episodes := 0
		for _, e := range r.Events {
			if e.Alarm == "temperature-high" && e.To == "active" && *e.Zone == fmt.Sprint("office ", i) {
				episodes++
			}
		}
		if episodes != c.episodes {
			t.Errorf("deadband %s: %d episodes, want %d", c.deadband, episodes, c.episodes)
		}
	}
	if r.Readings.Accepted != 4*7267 || len(r.Readings.Rejected) != 0 {
		t.Errorf("%d readings believed and %v not, want all 7267 of each zone", r.Readings.Accepted, r.Readings.Rejected)
	}
	d := r.Now.Boxes[0].Clutches[0].DegreeDays
	if math.Abs(d.SoFar-2237.4) > 0.1 || math.Abs(d.Measured-2057.3) > 0.1 || d.Base != 15 {
		t.Errorf("%.2f degree-days above %g C, of them %.2f measured; want 2237.4 above 15, 2057.3", d.SoFar, d.Base, d.Measured)
	}
}

// The 11 recorded nests run through the whole station, with references that others
// published for their species. The test prints the days off at three points of the way.
func TestReplayNests(t *testing.T) {
	laid := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	config := write(t, "nests.toml", `
[station]
name = "beach"
[[probe]]
name   = "nest"
driver = "recording"
[[zone]]
name   = "sand"
kind   = "room"
probes = ["nest"]
`+published(t, "Caretta caretta"))
	nests := nests(t, laid)
	off := map[float64][2]float64{}
	calendar := 0.0
	for i, n := range nests {
		var others float64
		for j, o := range nests {
			if i != j {
				others += o.days / float64(len(nests)-1)
			}
		}
		calendar += math.Abs(others-n.days) / float64(len(nests))
		readings := write(t, "nest.csv", n.csv)
		for _, way := range []float64{0.5, 0.75, 0.9} {
			r := replayed(t, replay.Options{
				Config: config, Readings: readings, Book: replay.Book{Entries: entries(t, oneClutch(laid, "nest", "sand"))},
				Until: laid.Add(time.Duration(way * n.days * 24 * float64(time.Hour))),
			})
			c := r.Now.Boxes[0].Clutches[0]
			x := off[way]
			x[0] += math.Abs(c.Window.Likely.Sub(laid).Hours()/24-n.days) / float64(len(nests))
			x[1] += math.Abs(c.LineWindow.Likely.Sub(laid).Hours()/24-n.days) / float64(len(nests))
			off[way] = x
		}
	}
	t.Logf("%8s %8s %8s %10s  (mean days off)", "way", "curve", "line", "calendar")
	for _, c := range []struct{ way, most float64 }{{0.5, 4.9}, {0.75, 2.6}, {0.9, 2.1}} {
		t.Logf("%7.0f%% %8.2f %8.2f %10.2f", 100*c.way, off[c.way][0], off[c.way][1], calendar)
		if off[c.way][0] > c.most {
			t.Errorf("at %.0f %% of the way the likely day is %.2f days off, want at most %.1f", 100*c.way, off[c.way][0], c.most)
		}
	}
}

type nest struct {
	days float64
	csv  string
}

// nests gives the recorded nests in the long form.
func nests(t *testing.T, laid time.Time) []nest {
	t.Helper()
	var all []nest
	var b *strings.Builder
	name := ""
	for _, row := range table(t, "nests/nest-temperatures.csv") {
		minutes, err := strconv.Atoi(row["minutes_since_laying"])
		if err != nil {
			t.Fatal(err)
		}
		if row["nest"] != name {
			name, b = row["nest"], &strings.Builder{}
			b.WriteString("time,probe,temperature_c,relative_humidity\n")
			all = append(all, nest{})
		}
		fmt.Fprintf(b, "%s,nest,%s,\n", laid.Add(time.Duration(minutes)*time.Minute).Format(time.RFC3339), row["temperature_c"])
		all[len(all)-1].days, all[len(all)-1].csv = float64(minutes)/(24*60), b.String()
	}
	return all
}

// published gives a profile section with the published values of a species.
func published(t *testing.T, species string) string {
	t.Helper()
	var b bytes.Buffer
	fmt.Fprintf(&b, "[[profile]]\nname = \"nest\"\nspecies = %q\n", species)
	low, high, head := math.Inf(1), math.Inf(-1), false
	var points strings.Builder
	for _, row := range table(t, "incubation/durations.csv") {
		if row["species"] != species {
			continue
		}
		if !head {
			head = true
			fmt.Fprintf(&b, "order = %q\nfamily = %q\n", row["order"], row["family"])
		}
		celsius, err := strconv.ParseFloat(row["temperature_c"], 64)
		if err != nil {
			t.Fatal(err)
		}
		low, high = min(low, celsius), max(high, celsius)
		fmt.Fprintf(&points, "[[profile.reference]]\ncelsius = %s\ndays = %s\ndaily_range = %s\nstudy = %q\nsource = \"study %[4]s\"\n",
			row["temperature_c"], row["duration_days"], row["daily_range_c"], row["study"])
	}
	fmt.Fprintf(&b, "usual = \"%gC\"\n%s", (low+high)/2, points.String())
	return b.String()
}

// table reads a CSV file of the test data.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(testdata + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var all []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, cell := range row {
			m[rows[0][i]] = cell
		}
		all = append(all, m)
	}
	return all
}

// A late clutch keeps its last window, marked as late.
func TestLateIsNoNewWindow(t *testing.T) {
	laid := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	var b strings.Builder
	b.WriteString("time,probe,temperature_c\n")
	for day := range 200 * 4 {
		fmt.Fprintf(&b, "%s,p,23.3\n", laid.Add(time.Duration(day)*6*time.Hour).Format(time.RFC3339))
	}
	r := replayed(t, replay.Options{
		Config:   write(t, "late.toml", "[station]\nname = \"x\"\n[[probe]]\nname = \"p\"\n[[zone]]\nname = \"room\"\nkind = \"room\"\nprobes = [\"p\"]\n"),
		Readings: write(t, "late.csv", b.String()),
		Book:     replay.Book{Entries: entries(t, oneClutch(laid, "crested gecko", "room"))},
	})
	w := r.Now.Boxes[0].Clutches[0].Window
	if w == nil || !w.Late {
		t.Fatalf("after 200 days at 23.3 C the window is %+v, want late", w)
	}
	if at := r.Now.At; !w.LateAfter.Before(at) || !w.CheckFrom.Before(w.LateAfter) || !w.Likely.IsZero() {
		t.Errorf("late at %s with %s, %s, %s: want the two dates it had, and no likely day", at, w.CheckFrom, w.Likely, w.LateAfter)
	}
}

// A Fahrenheit column that is read as Celsius is refused. Real Celsius is not, even with a
// hot runaway, nor is a column that the caller declares to be Celsius.
func TestReplayRefusesFahrenheitReadAsCelsius(t *testing.T) {
	config := write(t, "c.toml", "[[zone]]\nname = \"room\"\nprobes = [\"a\", \"b\"]\n")
	rows := func(header string, value ...func(i int) float64) string {
		var b strings.Builder
		b.WriteString(header + "\n")
		for i := range 200 {
			b.WriteString(time.Date(2026, 4, 2, 0, 0, 0, 0, time.UTC).Add(time.Duration(i) * time.Minute).Format(time.RFC3339))
			for _, v := range value {
				fmt.Fprintf(&b, ",%.2f", v(i))
			}
			b.WriteString("\n")
		}
		return b.String()
	}
	room := func(base float64) func(int) float64 { return func(i int) float64 { return base + float64(i%7)/10 } }
	runaway := func(i int) float64 { return 24 + float64(max(0, i-20))/2 } // to 113 C
	two := []string{"a=a", "b=b"}
	for name, c := range map[string]struct {
		text string
		o    replay.Options
		says string // of the error; empty: none
	}{
		"one column of two":    {rows("time,a,b", room(23), room(74)), replay.Options{Columns: two}, `probe b is between 74.0 and 74.6: as Celsius no egg stands that, as Fahrenheit it is 23.3 to 23.7 °C. Say --fahrenheit, or, if it is Celsius, --celsius`},
		"long, named Celsius":  {"time,probe,temperature_c\n2026-04-02T00:00:00Z,a,72\n2026-04-02T00:01:00Z,a,71\n", replay.Options{}, "probe a is between 71.0 and 72.0"},
		"ratios as percent":    {"time,probe,temperature_c,relative_humidity\n2026-04-02T00:00:00Z,a,23,0.5\n2026-04-02T00:01:00Z,a,23,0.51\n", replay.Options{Percent: true}, "the humidity of probe a is below 1.25, which no air is in percent"},
		"a cool cellar":        {rows("time,a,b", room(55), room(50)), replay.Options{Columns: two}, "probe a is between 55.0 and 55.6"},
		"bad rows beside":      {rows("time,a,b", room(74), room(74)) + "soon,1,2\n", replay.Options{Columns: two, KeepGoing: true}, "probe a is between"},
		"said to be":           {rows("time,a,b", room(74), room(75)), replay.Options{Columns: two, Fahrenheit: true}, ""},
		"said to be Celsius":   {rows("time,a,b", room(74), room(23)), replay.Options{Columns: two, Celsius: true}, ""},
		"long, named":          {"time,probe,temperature_f\n2026-04-02T00:00:00Z,a,172\n2026-04-02T00:01:00Z,a,171\n", replay.Options{}, ""},
		"a runaway":            {rows("time,a,b", runaway, room(33)), replay.Options{Columns: two}, ""},
		"a hot nest":           {rows("time,a,b", room(39.5), room(38)), replay.Options{Columns: two}, ""},
		"no air, and no units": {rows("time,a,b", room(140), room(1000)), replay.Options{Columns: two}, ""},
		"nothing at all":       {"time,a,b\n2026-04-02T00:00:00Z,,\n2026-04-02T00:01:00Z,,\n", replay.Options{Columns: two}, ""},
	} {
		c.o.Config, c.o.Readings = config, write(t, "r.csv", c.text)
		_, err := replay.Run(t.Context(), c.o)
		switch {
		case c.says == "" && err != nil:
			t.Errorf("%s: %v", name, err)
		case c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says) || !usererr.IsUsage(err)):
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
}

// The drift backtest refuses the same.
func TestBacktestRefusesFahrenheitReadAsCelsius(t *testing.T) {
	office := testdata + "rooms/office-hourly-fahrenheit.csv"
	o := replay.DriftBacktestOptions{Files: []string{office}, Columns: []string{"office=value"}, Failures: 1}
	if _, err := replay.BacktestDrift(t.Context(), o); err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "office-hourly-fahrenheit.csv: probe office is between") {
		t.Errorf("a year of 57 to 86 °F as Celsius: %v", err)
	}
	o.Fahrenheit = true
	if _, err := replay.BacktestDrift(t.Context(), o); err != nil {
		t.Error(err)
	}
}

// A row of a probe that the configuration does not have is named by file and line, and what is
// printed of an alarm names its probe.
func TestReplayNamesLineAndProbe(t *testing.T) {
	o := replay.Options{Config: write(t, "c.toml", "[[zone]]\nname = \"room\"\nprobes = [\"a\"]\nwanted = { high = \"24C\" }\n")}
	o.Readings = write(t, "r.csv", "time,probe,temperature_c\n2026-04-02T00:00:00Z,a,23\n2026-04-02T00:01:00Z,b,23\n")
	if _, err := replay.Run(t.Context(), o); err == nil || !strings.HasPrefix(err.Error(), o.Readings+":3: the configuration has no probe \"b\"") {
		t.Errorf("%v", err)
	}
	rows := "time,probe,temperature_c\n"
	for i := range 60 {
		rows += time.Date(2026, 4, 2, 0, i, 0, 0, time.UTC).Format(time.RFC3339) + ",a," + strconv.Itoa(23+min(i, 30)/15) + "\n"
	}
	o.Readings = write(t, "r.csv", rows)
	r, err := replay.Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := replay.Describe(&b, r); err != nil || !strings.Contains(b.String(), "  room  a  too warm  ") {
		t.Errorf("%v in\n%s", err, b.String())
	}
}

// What is wrong with a book is told with its line, also where only the configuration shows it.
func TestReplayNamesTheLineOfTheBook(t *testing.T) {
	const dam = `{"key":"a1","at":"2026-04-01T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}` + "\n"
	path := write(t, "book.jsonl", dam+"\n"+`{"key":"a2","at":"2026-04-01T20:00:00Z","entry":"looked","dam":"Sorel"}`+"\nx\n")
	_, err := replay.ReadBook(path)
	if err == nil || !strings.HasPrefix(err.Error(), path+":\nline 3, entry a2: dam: Sorel") || !strings.Contains(err.Error(), "\nline 4: is no JSON object") {
		t.Errorf("%v", err)
	}
	path = write(t, "book.jsonl", dam+"\n"+`{"key":"a2","at":"2026-04-01T20:00:00Z","entry":"box","box":"B1","zone":"attic"}`+"\n")
	o := replay.Options{Config: write(t, "c.toml", "[[zone]]\nname = \"room\"\nprobes = [\"a\"]\n"), Readings: write(t, "r.csv", "time,probe,temperature_c\n2026-04-02T00:00:00Z,a,23\n")}
	if o.Book, err = replay.ReadBook(path); err != nil {
		t.Fatal(err)
	}
	if _, err := replay.Run(t.Context(), o); err == nil || err.Error() != path+":\nline 3, entry a2: zone: the configuration has no zone \"attic\"; it has room" {
		t.Errorf("%v", err)
	}
}
