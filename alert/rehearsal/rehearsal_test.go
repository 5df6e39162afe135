package rehearsal_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/alert/rehearsal"
	"example.com/ootherm/sensor/recording"
)

// rooms are the recordings of testdata/rooms, a probe each.
func rooms(t testing.TB) (all []rehearsal.Recording) {
	t.Helper()
	for _, f := range []struct {
		file    string
		columns []string
		form    recording.Options
	}{
		{"four-probes-30s.csv", []string{"s1_c", "s2_c", "s3_c", "s4_c"}, recording.Options{}},
		{"house-two-rooms-15min.csv", []string{"dining_c", "bedroom_c"}, recording.Options{}},
		{"house-irregular-10min.csv", []string{"t1_c", "t2_c", "t3_c", "t4_c"}, recording.Options{}},
		{"lizard-lab-incubator-5min.csv", []string{"temperature_c"}, recording.Options{}},
		{"office-hourly-fahrenheit.csv", []string{"value"}, recording.Options{TimeColumn: "timestamp", Fahrenheit: true}},
	} {
		for _, column := range f.columns {
			file, err := os.Open(filepath.Join("../../testdata/rooms", f.file))
			if err != nil {
				t.Fatal(err)
			}
			f.form.Columns = []recording.Column{{Probe: column, Celsius: column}}
			in, err := recording.Open(file, f.file, f.form)
			if err != nil {
				t.Fatal(err)
			}
			r := rehearsal.Recording{Name: strings.TrimSuffix(f.file, ".csv") + " " + column}
			for {
				row, err := in.Next()
				if errors.Is(err, io.EOF) {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				if !math.IsNaN(row.Celsius) {
					r.Samples = append(r.Samples, rehearsal.Sample{At: row.At, Celsius: row.Celsius})
				}
			}
			if err := file.Close(); err != nil {
				t.Fatal(err)
			}
			all = append(all, r)
		}
	}
	return all
}

func TestD(t *testing.T) {
	rehearsal.Diag(t, rooms(t), 0)
	fmt.Println("--- cycle")
	rehearsal.Diag(t, rooms(t), 1)
}
