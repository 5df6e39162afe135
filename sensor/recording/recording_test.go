package recording

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

// all reads a recording to its end: what was read, and what was refused.
func all(t testing.TB, r *Reader) (rows []Row, bad []*RowError) {
	t.Helper()
	for {
		row, err := r.Next()
		var e *RowError
		switch {
		case err == io.EOF:
			return rows, bad
		case errors.As(err, &e):
			if !math.IsNaN(row.Celsius) || !math.IsNaN(row.Humidity) {
				t.Errorf("%+v travels with %v", row, err)
			}
			bad = append(bad, e)
		case err != nil:
			t.Fatal(err)
		default:
			rows = append(rows, row)
		}
	}
}

func open(t testing.TB, text string, o Options) *Reader {
	t.Helper()
	r, err := Open(strings.NewReader(text), "room.csv", o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func show(rows []Row) string {
	var b strings.Builder
	for _, r := range rows {
		fmt.Fprintf(&b, "%d %s %s %.4f %.4f\n", r.Line, r.At.UTC().Format(time.RFC3339), r.Probe, r.Celsius, r.Humidity)
	}
	return b.String()
}

func column(t *testing.T, s string) Column {
	t.Helper()
	c, err := ParseColumn(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestForms(t *testing.T) {
	ny, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, text string
		o          Options
		want       string
	}{
		{
			"long", "time,probe,temperature_c,relative_humidity\n2026-04-02T19:00:00Z,shelf,23.5,0.5\n2026-04-02T19:00:00Z,box,24,\n2026-04-02T15:00:10-04:00,shelf,,0.51\n", Options{},
			"2 2026-04-02T19:00:00Z shelf 23.5000 0.5000\n3 2026-04-02T19:00:00Z box 24.0000 NaN\n4 2026-04-02T19:00:10Z shelf NaN 0.5100\n",
		},
		{
			"long in Fahrenheit and percent, without a zone, in another order", "probe,relative_humidity,time,temperature_f\nshelf,51,2026-07-02 12:00,77\n", Options{Percent: true, Location: ny},
			"2 2026-07-02T16:00:00Z shelf 25.0000 0.5100\n",
		},
		{
			"long without humidity", "time,probe,temperature_c\n2026-04-02T19:00:00Z,shelf,23.5\n", Options{},
			"2 2026-04-02T19:00:00Z shelf 23.5000 NaN\n",
		},
		{
			"wide", "\ufefftime, a_c ,b_c,b_rh\n2017-12-22 10:49:41,20,,55\n2017-12-22T10:50:12,20.5,21,56\n", Options{Columns: []Column{column(t, "a=a_c"), column(t, "b=b_c:b_rh")}, Percent: true},
			"2 2017-12-22T10:49:41Z a 20.0000 NaN\n2 2017-12-22T10:49:41Z b NaN 0.5500\n3 2017-12-22T10:50:12Z a 20.5000 NaN\n3 2017-12-22T10:50:12Z b 21.0000 0.5600\n",
		},
		{
			"wide in Fahrenheit with another time column", "timestamp,value\n2013-07-04 00:00:00,68\n", Options{Columns: []Column{column(t, "office=value")}, TimeColumn: "timestamp", Fahrenheit: true},
			"2 2013-07-04T00:00:00Z office 20.0000 NaN\n",
		},
		{"a header alone", "time,probe,temperature_c\n", Options{}, ""},
	} {
		rows, bad := all(t, open(t, c.text, c.o))
		if got := show(rows); got != c.want || len(bad) > 0 {
			t.Errorf("%s:\n%swant\n%srefused %v", c.name, got, c.want, bad)
		}
	}
}

func TestBadRowsAreNamedAndPassed(t *testing.T) {
	r := open(t, `time,probe,temperature_c,relative_humidity
2026-04-02T19:00:00Z,a,23.5,0.5
yesterday,a,23.5,0.5
2026-04-02T19:00:20Z,a,warm,0.5
2026-04-02T19:00:30Z,a,23.5,NaN
2026-04-02T19:00:40Z,a,23.5
2026-04-02T19:00:50Z,a,"23"5,0.5
2026-04-02T19:00:00Z,a,23.5,0.5
2026-04-02T18:00:00Z,a,23.5,0.5
2026-04-02T18:00:00Z,b,23.5,0.5
2026-04-02T19:01:00Z,,23.5,0.5
2026-04-02T19:01:10Z,a,24,0.5
`, Options{})
	rows, bad := all(t, r)
	if got, want := show(rows), "2 2026-04-02T19:00:00Z a 23.5000 0.5000\n10 2026-04-02T18:00:00Z b 23.5000 0.5000\n12 2026-04-02T19:01:10Z a 24.0000 0.5000\n"; got != want {
		t.Errorf("read\n%swant\n%s", got, want)
	}
	want := []struct {
		line   int
		column string
		cause  sensor.Cause
	}{
		{3, "time", BadTime}, {4, "temperature_c", BadNumber}, {5, "relative_humidity", BadNumber}, {6, "", BadRow}, {7, "", BadRow},
		{8, "time", OutOfOrder}, {9, "time", OutOfOrder}, {11, "probe", BadRow},
	}
	if len(bad) != len(want) {
		t.Fatalf("refused %v", bad)
	}
	for i, w := range want {
		e := bad[i]
		if e.Line != w.line || e.Column != w.column || e.Cause() != w.cause || sensor.CauseOf(e) != w.cause {
			t.Errorf("refused %v as %s, want line %d, column %q, %s", e, e.Cause(), w.line, w.column, w.cause)
		}
		if !strings.HasPrefix(e.Error(), fmt.Sprintf("room.csv:%d: ", w.line)) {
			t.Errorf("error %q does not say where", e)
		}
	}
}

func TestHeadersThatCannotBeReadSayWhatWasFound(t *testing.T) {
	for _, c := range []struct {
		text string
		o    Options
		want []string
	}{
		{"", Options{}, []string{"empty"}},
		{"when,probe,temp\n", Options{}, []string{`"time"`, `"temperature_c" or "temperature_f"`, `"when" "probe" "temp"`}},
		{"time,t1\n", Options{Columns: []Column{{"a", "t2", "rh2"}}}, []string{`"t2", "rh2"`, `"time" "t1"`}},
		{"time,t1,t1\n", Options{Columns: []Column{{"a", "t1", ""}}}, []string{`"t1" twice`}},
		{"time,t1,t2\n", Options{Columns: []Column{{"a", "t1", ""}, {"a", "t2", ""}}}, []string{`"a" has two`}},
		{"time,\"t1\n", Options{}, []string{"header"}},
		{"time,probe,temperature_c,temperature_f\n", Options{}, []string{"both temperature_c and temperature_f", "take one out"}},
	} {
		_, err := Open(strings.NewReader(c.text), "room.csv", c.o)
		if err == nil {
			t.Errorf("header %q is taken", c.text)
			continue
		}
		for _, w := range append(c.want, "room.csv: ") {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("header %q: error %q lacks %q", c.text, err, w)
			}
		}
	}
	for _, s := range []string{"", "a", "a=", "=t", "a=t:", "a=:rh"} {
		if c, err := ParseColumn(s); err == nil {
			t.Errorf("column %q is taken as %+v", s, c)
		}
	}
}

// broken gives its text and then fails.
type broken struct{ io.Reader }

func (b broken) Read(p []byte) (int, error) {
	n, err := b.Reader.Read(p)
	if err == io.EOF {
		err = errors.New("input/output error")
	}
	return n, err
}

func TestAFileThatFailsIsNoRow(t *testing.T) {
	r, err := Open(broken{strings.NewReader("time,probe,temperature_c\n2026-04-02T19:00:00Z,a,23.5\n")}, "room.csv", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Next(); err != nil {
		t.Fatal(err)
	}
	for range 2 { // and stays so
		_, err = r.Next()
		var bad *RowError
		if err == nil || err == io.EOF || errors.As(err, &bad) {
			t.Errorf("a file that fails gives %v", err)
		}
	}
}

func TestRecordings(t *testing.T) {
	for _, c := range []struct {
		file    string
		columns []string
		o       Options
		rows    int
		last    string
	}{
		{"rooms/office-hourly-fahrenheit.csv", []string{"office=value"}, Options{TimeColumn: "timestamp", Fahrenheit: true}, 7267, ""},
		{"rooms/four-probes-30s.csv", []string{"a=s1_c", "b=s2_c", "c=s3_c", "d=s4_c"}, Options{}, 4 * 8084, ""},
		{"rooms/house-irregular-10min.csv", []string{"a=t1_c:rh1", "b=t2_c:rh2"}, Options{Percent: true}, 2 * 4932, ""},
		{"rooms/lizard-lab-incubator-5min.csv", []string{"a=temperature_c:rh"}, Options{Percent: true}, 599, ""},
	} {
		f, err := os.Open("../../testdata/" + c.file)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range c.columns {
			c.o.Columns = append(c.o.Columns, column(t, s))
		}
		r, err := Open(f, c.file, c.o)
		if err != nil {
			t.Fatal(err)
		}
		rows, bad := all(t, r)
		if len(rows) != c.rows || len(bad) > 0 {
			t.Errorf("%s: %d readings, want %d; refused %v", c.file, len(rows), c.rows, bad)
		}
		f.Close()
	}
}

const played = "time,probe,temperature_c\n2026-04-02T19:00:00Z,a,20\n2026-04-02T19:00:30Z,b,9\n2026-04-02T19:01:00Z,a,21\nbad,b,1\n2026-04-02T19:01:30Z,b,bad\n2026-04-02T19:02:00Z,a,bad\n2026-04-02T23:02:00Z,a,23\n"

func TestPlayback(t *testing.T) {
	var elapsed time.Duration
	p := Play(open(t, played, Options{}), "a", func() time.Duration { return elapsed })
	for _, c := range []struct {
		at    time.Duration
		want  float64
		cause sensor.Cause
	}{
		{0, 20, ""},
		{59 * time.Second, 20, ""},
		{60 * time.Second, 0, sensor.BadFrame}, // the row after this one has no time
		{61 * time.Second, 0, sensor.BadFrame}, // and the next no number
		{62 * time.Second, 21, ""},
		{2*time.Hour + time.Minute, 21, ""},
		{2*time.Hour + 2*time.Minute, 0, sensor.NoAnswer}, // a gap
		{4*time.Hour + 2*time.Minute, 23, ""},
		{6*time.Hour + 2*time.Minute, 23, ""},
		{6*time.Hour + 3*time.Minute, 0, sensor.NoAnswer}, // the end
	} {
		elapsed = c.at
		m, err := p.Measure(t.Context())
		if c.cause != "" {
			sensortest.Refused(t, m, err, c.cause)
		} else if err != nil || m.Celsius != c.want {
			t.Errorf("at %v: %+v, %v, want %v", c.at, m, err, c.want)
		}
	}
}

func TestContract(t *testing.T) {
	play := func(text, probe string, at time.Duration) func(testing.TB) sensor.Probe {
		return func(t testing.TB) sensor.Probe {
			return Play(open(t, text, Options{}), probe, func() time.Duration { return at })
		}
	}
	sensortest.Contract(t, sensortest.Driver{
		Good: sensortest.Case{Probe: play(played, "a", 0), Want: sensor.Measurement{Celsius: 20, Humidity: math.NaN()}},
		Faults: map[string]sensortest.Case{
			"no such probe": {Probe: play(played, "c", 0), Cause: sensor.NoAnswer},
			"ended":         {Probe: play(played, "a", 24*time.Hour), Cause: sensor.BadFrame},
		},
	})
}

func FuzzReader(f *testing.F) {
	f.Add(played, false)
	f.Add("time,a\n2013-07-04 00:00:00,69.8\n\"\n", true)
	f.Add("\ufeffsep=;\r\n\"time\";a\r\n2013-07-04 00:00:00 +0200;69,8\r\n", true)
	f.Fuzz(func(t *testing.T, text string, wide bool) {
		o := Options{}
		if wide {
			o.Columns = []Column{{"a", "a", ""}}
		}
		r, err := Open(strings.NewReader(text), "fuzz.csv", o)
		if err != nil {
			return
		}
		rows, _ := all(t, r)
		last := map[string]time.Time{}
		for _, row := range rows {
			if !row.At.After(last[row.Probe]) && !last[row.Probe].IsZero() {
				t.Fatalf("%v is out of order", row)
			}
			if row.Probe == "" || math.IsInf(row.Celsius, 0) {
				t.Fatalf("%+v", row)
			}
			last[row.Probe] = row.At
		}
	})
}

func BenchmarkNext(b *testing.B) {
	var text strings.Builder
	text.WriteString("time,probe,temperature_c,relative_humidity\n")
	at := time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	for range 1000 {
		at = at.Add(10 * time.Second)
		for p := range 12 {
			fmt.Fprintf(&text, "%s,probe-%d,23.45,0.512\n", at.Format(time.RFC3339), p)
		}
	}
	b.ReportAllocs()
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		r := open(b, text.String(), Options{})
		n := 0
		for {
			if _, err := r.Next(); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
			n++
		}
		if n != 12000 {
			b.Fatal(n)
		}
	}
}
