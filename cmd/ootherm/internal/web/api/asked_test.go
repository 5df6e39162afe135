package api

import (
	"testing"
	"time"
)

func FuzzAsked(f *testing.F) {
	for _, s := range []string{"probe=shelf", "probe=shelf&from=2026-06-09T00:00:00+02:00", "probe=a&to=2026-06-09T00:00:00Z&from=x", "probe=%zz", "a;b", "probe=a&probe=b", "from=&to="} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, query string) {
		a, err := parseAsked(query, time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC))
		if err != nil {
			if a != (asked{}) {
				t.Errorf("%q: a value beside the error %v", query, err)
			}
			return
		}
		if a.probe == "" || !a.from.Before(a.to) {
			t.Errorf("%q: taken as %+v", query, a)
		}
	})
}
