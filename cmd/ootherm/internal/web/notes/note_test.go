package notes

import (
	"net/url"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

func FuzzForms(f *testing.F) {
	const when = "&at=2026-06-09T09:15&key=k"
	f.Add("found", "dam=a&eggs=2&since=look&look+a=2026-06-01T00:00:00Z&box=B1&clutch=C1&free+B1=a+b"+when)
	f.Add("found", "eggs=2&eggs=12&since=72h&box=B1&clutch=C1&slots=1,2,3,4,5,6,7,8,9,10,11,12&clock=phone&instant=2026-06-09T09:15:00Z&sent=2026-06-09T14:31:00Z"+when)
	f.Add("weighed", "box=B1&total_g=1e309"+when)
	f.Add("found", "eggs=1&since=1h&box=B1&slots=a&clutch=C1&clock=phone&instant=0000-01-01T00:00:00Z&key=k")
	f.Add("found", "dam=a&eggs=1&since=look&look+a=0000-01-01T00:00:00%2B01:00&box=B1&slots=a&clutch=C1"+when)
	for _, k := range forms.All() {
		v := url.Values{}
		for _, x := range k.Fields {
			v.Set(x.Name, "1")
		}
		f.Add(k.Kind, v.Encode()+when)
	}
	s := Pages{Site: &page.Site{Options: page.Options{Reader: words.Reader{Units: words.Fahrenheit, Place: time.UTC}, Clock: func() time.Time { return time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC) }}}}
	f.Fuzz(func(t *testing.T, kind, body string) {
		v, err := url.ParseQuery(body)
		k, ok := forms.Of(kind)
		if err != nil || !ok {
			return
		}
		entries, err := s.entries(k, v)
		if again, _ := s.entries(k, v); !slices.EqualFunc(entries, again, book.Entry.Same) {
			t.Error("a form sent twice says two things")
		}
		if err != nil && entries != nil {
			t.Error("an error beside entries")
		}
		for _, e := range entries {
			if _, err := e.MarshalJSON(); err != nil {
				t.Errorf("an entry that cannot be written: %v", err)
			}
		}
	})
}
