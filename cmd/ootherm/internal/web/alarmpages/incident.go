package alarmpages

import (
	"context"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// lastDay is the span that is shown where none is asked for.
const lastDay = 24 * time.Hour

// local is a time as a form writes it.
const local = "2006-01-02T15:04"

// span reads what a request for an incident asks for: times with their zone, or
// as they are where the station is. Without them, and instead of one that cannot be read, it is
// the last day.
func (s IncidentPages) span(r *http.Request) (from, to time.Time, zone string, err error) {
	q := r.URL.Query()
	now := s.Clock()
	to = now
	if text := q.Get("to"); text != "" {
		if to, err = s.instant("to", text); err != nil {
			return now.Add(-lastDay), now, "", err
		}
	}
	from = to.Add(-lastDay)
	if text := q.Get("from"); text != "" {
		at, err := s.instant("from", text)
		if err != nil {
			return from, to, "", err
		}
		from = at
	}
	return from, to, q.Get("zone"), nil
}

func (s IncidentPages) instant(name, text string) (time.Time, error) {
	// A plus sign that was not escaped arrives as a space.
	if t, err := time.Parse(time.RFC3339, strings.ReplaceAll(text, " ", "+")); err == nil {
		return t, nil
	}
	for _, layout := range []string{local, "2006-01-02T15:04:05", "2006-01-02 15:04", time.DateOnly} {
		if t, err := time.ParseInLocation(layout, text, s.Place()); err == nil {
			return t, nil
		}
	}
	return time.Time{}, usererr.New(fmt.Sprintf("%s: %q is no time; write it like 2026-06-01T08:00, or with its zone like 2026-06-01T08:00:00Z", name, text))
}

func (s IncidentPages) ServeJSON(w http.ResponseWriter, r *http.Request) {
	from, to, zone, err := s.span(r)
	if err != nil {
		s.Nonsense(w, err)
		return
	}
	n, err := s.Incidents.Incident(r.Context(), from, to, zone)
	if err != nil {
		s.Done(w, err)
		return
	}
	body, err := json.Marshal(n)
	if err != nil {
		s.Done(w, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
}

// IncidentPages looks back at a span of time.
type IncidentPages struct {
	*page.Site
	// Plot draws a zone in a span with its alarms; nil: nothing is drawn.
	Plot func(ctx context.Context, zone string, from, to time.Time, alarms []snapshot.PastAlarm) template.HTML
}

// incidentZone is a zone in a span of time, in words and as a drawing.
type incidentZone struct {
	words.IncidentText
	Figure template.HTML
}

type incidentPage struct {
	page.Frame
	First, Last, Span, Long string
	Zones                   []incidentZone
	Alarms                  []string
	Clutches                []words.IncidentText
	Kept                    []words.IncidentText // clutches that it moved by less than an hour or two
	KeptTitle               string
	NoSurvival              string
	Past, Earlier           []PastLink
	EarlierTitle            string
	Wrong                   string
}

type PastLink struct{ Href, Text string }

// aside is how much of the time before and after an alarm its page shows.
const Aside = time.Hour

func IncidentHref(from, to time.Time) string {
	return "/incident?" + url.Values{"from": {from.UTC().Format(time.RFC3339)}, "to": {to.UTC().Format(time.RFC3339)}}.Encode()
}

// few are the alarms that stand unfolded.
const few = 3

// lately is how far back the page lists alarms that are over.
const lately = 90 * 24 * time.Hour

func (s IncidentPages) ServePage(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	v := incidentPage{Frame: s.Frame(n, "What happened").In("more"), NoSurvival: words.NoSurvival}
	from, to, zone, err := s.span(r)
	var x snapshot.Incident
	if err == nil {
		x, err = s.Incidents.Incident(r.Context(), from, to, zone)
	}
	status := http.StatusOK
	if err != nil {
		if r.Context().Err() != nil {
			return // the client went away
		}
		status, v.Wrong = s.Refusal(err)
		v.Wrong = words.Capital(v.Wrong) + "."
	}
	v.First, v.Last = from.In(s.Place()).Format(local), to.In(s.Place()).Format(local)
	if err == nil {
		s.fill(r.Context(), &v, x, n.At)
	}
	all, err := s.Incidents.Alarms(s.Clock().Add(-lately), s.Clock())
	if err != nil {
		s.Log.Error("the alarms that were could not be read", "err", err)
	}
	in := words.Incident{Reader: s.Reader, At: n.At}
	for _, a := range slices.Backward(all) {
		if a.Ended == nil || a.Priority == "notice" && a.Alarm != "station-restarted" {
			continue
		}
		v.Past = append(v.Past, PastLink{IncidentHref(a.Began.Add(-Aside), a.Ended.Add(Aside)), in.Alarm(a)})
	}
	if n := len(v.Past); n > few+1 {
		v.Past, v.Earlier = v.Past[:few], v.Past[few:]
		v.EarlierTitle = fmt.Sprintf("%d earlier ones", n-few)
	}
	s.Render(w, status, "incident", v)
}

func (s IncidentPages) fill(ctx context.Context, v *incidentPage, x snapshot.Incident, at time.Time) {
	r := words.Incident{Reader: s.Reader, At: at}
	v.Span = r.Between(x.From, x.To, at)
	v.Long = words.Span(x.To.Sub(x.From))
	for _, z := range x.Zones {
		one := incidentZone{IncidentText: r.Zone(z)}
		if s.Plot != nil {
			one.Figure = s.Plot(ctx, z.Zone, x.From, x.To, x.Alarms)
		}
		v.Zones = append(v.Zones, one)
	}
	for _, a := range x.Alarms {
		v.Alarms = append(v.Alarms, r.Alarm(a)+r.Seen(a))
	}
	slices.SortStableFunc(x.Clutches, func(a, b snapshot.IncidentClutch) int { return -compareMoved(a, b) })
	for _, c := range x.Clutches {
		t := r.Clutch(c)
		if moved(c) < 0.05 {
			v.Kept = append(v.Kept, t)
			continue
		}
		v.Clutches = append(v.Clutches, t)
	}
	v.KeptTitle = words.Count(len(v.Kept), "clutch", "clutches") + " of which it hardly moved the hatch"
}

// moved is by how many days, either way; where it is not known, that comes first.
func moved(c snapshot.IncidentClutch) float64 {
	if c.Moved == nil {
		return 1e9
	}
	return max(*c.Moved, -*c.Moved)
}

func compareMoved(a, b snapshot.IncidentClutch) int {
	switch x, y := moved(a), moved(b); {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}
