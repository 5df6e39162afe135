package recording

import (
	"errors"
	"strings"
	"testing"
	"testing/iotest"

	"example.com/ootherm/sensor"
)

// A recording as a spreadsheet writes it, in whatever country: the same readings.
func TestWhatSpreadsheetsWrite(t *testing.T) {
	const plain = "time,probe,temperature_c,relative_humidity\n2026-04-02 19:00:00,shelf,23.5,0.5\n2026-04-02 19:01:00,shelf,,0.51\n2026-04-02 19:02:00,shelf,-0.25,\n"
	want := "2 2026-04-02T19:00:00Z shelf 23.5000 0.5000\n3 2026-04-02T19:01:00Z shelf NaN 0.5100\n4 2026-04-02T19:02:00Z shelf -0.2500 NaN\n"
	semicolons := strings.ReplaceAll(plain, ",", ";")
	for name, text := range map[string]string{
		"plain":                     plain,
		"with a mark":               "\ufeff" + plain,
		"with a mark and quotes":    "\ufeff" + strings.Replace(plain, "time,probe", `"time","probe"`, 1),
		"from Windows":              "\ufeff" + strings.ReplaceAll(plain, "\n", "\r\n"),
		"semicolons":                semicolons,
		"and decimal commas":        strings.ReplaceAll(semicolons, ".", ","),
		"quoted, and decimal comma": strings.ReplaceAll(strings.ReplaceAll(semicolons, ".", ","), "23,5", `"23,5"`),
		"with what separates them":  "\ufeffsep=;\r\n" + strings.ReplaceAll(strings.ReplaceAll(semicolons, ".", ","), "\n", "\r\n"),
		"tabs":                      strings.ReplaceAll(plain, ",", "\t"),
		"tabs and decimal commas":   strings.ReplaceAll(strings.ReplaceAll(plain, ",", "\t"), ".", ","),
	} {
		for _, o := range []Options{{}, {Columns: []Column{{Probe: "shelf", Celsius: "temperature_c", Humidity: "relative_humidity"}}}} {
			r, err := Open(iotest.OneByteReader(strings.NewReader(text)), "room.csv", o)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			rows, bad := all(t, r)
			got := show(rows)
			if strings.Contains(name, "separates") { // its lines are counted as they stand
				got = strings.NewReplacer("3 2026", "2 2026", "4 2026", "3 2026", "5 2026", "4 2026").Replace(got)
			}
			if got != want || len(bad) > 0 {
				t.Errorf("%s:\n%swant\n%srefused %v", name, got, want, bad)
			}
		}
	}
	// A name with a comma does not make commas of semicolons.
	r := open(t, "time;\"shelf, °C\";rh\n2026-04-02 19:00:00;23,5;50\n", Options{Columns: []Column{{Probe: "a", Celsius: "shelf, °C"}}})
	if rows, bad := all(t, r); show(rows) != "2 2026-04-02T19:00:00Z a 23.5000 NaN\n" || len(bad) > 0 {
		t.Errorf("%s%v", show(rows), bad)
	}
}

// What cannot be read says what it is, and the line that stands in the file.
func TestWhatSpreadsheetsWriteWrong(t *testing.T) {
	head := "time;probe;temperature_c\n"
	for text, want := range map[string]string{
		"\xff\xfet\x00i\x00":                                     "is in UTF-16: save it as CSV in UTF-8",
		"\xfe\xff\x00t\x00i":                                     "is in UTF-16: save it as CSV in UTF-8",
		"time,probe,temperature_c\r2026,a,23\r":                  "its lines end in CR alone: save it with LF or CR LF",
		head + "2026-04-02 19:00:00;a;1.234,5\n":                 "room.csv:2: column temperature_c: \"1.234,5\" is no number",
		"sep=;\n" + head + "2026-04-02 19:00:00;a;ab\n":          "room.csv:3: column temperature_c",
		"sep=;\n" + head + "2026-04-02 19:00:00;a\n":             "room.csv:3: 2 cells where the header has 3",
		head + "0001-04-02 19:00:00;a;23\n":                      "room.csv:2: column time: \"0001-04-02 19:00:00\" is in the year 1, and no recording is",
		head + "2226-04-02 19:00:00;a;23\n":                      "is in the year 2226, and no recording is",
		"time,probe,temperature_c\n2026-04-02 19:00:00,a,23,5\n": "4 cells where the header has 3: with decimal commas, separate cells by semicolons",
	} {
		r, err := Open(strings.NewReader(text), "room.csv", Options{})
		for err == nil {
			_, err = r.Next()
		}
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%.30q: %v, want %q", text, err, want)
		}
		if errors.As(err, new(*RowError)) != strings.Contains(want, "column") && !strings.Contains(want, "cells") && !strings.Contains(want, "year") {
			t.Errorf("%.30q: %T", text, err)
		}
	}
}

// Times with the offsets that programs write.
func TestOffsetsThatProgramsWrite(t *testing.T) {
	for _, text := range []string{
		"2026-04-02T21:00:00+02:00", "2026-04-02 21:00:00+02:00", "2026-04-02T21:00:00+0200", "2026-04-02 21:00:00+0200",
		"2026-04-02 21:00:00 +0200", "2026-04-02 21:00:00 +02:00", "2026-04-02 19:00:00Z", "2026-04-02 19:00:00 Z", "2026-04-02T21:00:00.000+0200",
	} {
		r := open(t, "time,probe,temperature_c\n"+text+",a,23\n", Options{})
		if rows, bad := all(t, r); show(rows) != "2 2026-04-02T19:00:00Z a 23.0000 NaN\n" {
			t.Errorf("%s: %s%v", text, show(rows), bad)
		}
	}
}

// A column of ratios that is read as percent is found out; dry air is not.
func TestRatiosReadAsPercent(t *testing.T) {
	for name, c := range map[string]struct {
		humidity []float64
		want     bool
	}{
		"ratios": {[]float64{.005, .0052, .0048}, true}, "percent": {[]float64{.5, .52, .48}, false}, "a desert": {[]float64{.05, .03}, false},
		"a dead part": {[]float64{0, 0, 0}, false}, "none": {nil, false},
	} {
		var u Units
		for _, h := range c.humidity {
			u.See(sensor.Measurement{Celsius: 23, Humidity: h})
		}
		if u.RatioAsPercent() != c.want || u.Mistaken() {
			t.Errorf("%s: %v, want %v", name, u.RatioAsPercent(), c.want)
		}
	}
}
