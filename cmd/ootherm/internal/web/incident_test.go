package web

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
)

// looking is a station with one hot afternoon behind it.
type looking struct{ asked *[3]string }

func (l looking) Incident(_ context.Context, from, to time.Time, zone string) (snapshot.Incident, error) {
	*l.asked = [3]string{from.UTC().Format(time.RFC3339), to.UTC().Format(time.RFC3339), zone}
	if zone == "attic" {
		return snapshot.Incident{}, usererr.New("there is no attic")
	}
	room, shelf := "room", "shelf"
	return snapshot.Incident{
		From: from, To: to,
		Zones: []snapshot.IncidentZone{{
			Zone: room, Highest: &snapshot.Extreme{Value: 29.3, At: at.Add(-2 * time.Hour), Probe: shelf}, Lowest: &snapshot.Extreme{Value: 23.1, At: at.Add(-time.Hour), Probe: shelf},
			Past: []snapshot.Past{{Of: "temperature", Band: "safe", Side: "warm", Limit: 26.7, Seconds: 5040, Longest: 3600, Events: 2, Most: 2.6},
				{Of: "humidity", Band: "wanted", Side: "dry", Limit: 0.45}},
			Jumps: []snapshot.Jump{{Probe: shelf, At: at.Add(-125 * time.Minute), Kelvin: 5.6}},
			Gaps:  []snapshot.GapSpan{{From: at.Add(-3 * time.Hour), To: at.Add(-150 * time.Minute)}},
		}, {Zone: "incubator", Past: []snapshot.Past{}, Jumps: []snapshot.Jump{}, Gaps: []snapshot.GapSpan{}}},
		Alarms: []snapshot.PastAlarm{{Alarm: "temperature-high", Zone: &room, Priority: "critical", Began: at.Add(-2 * time.Hour), Raised: at.Add(-110 * time.Minute), Ended: ptr(at.Add(-time.Hour)), Peak: ptr(29.3)}},
		Clutches: []snapshot.IncidentClutch{
			{Clutch: "S2", Dam: ptr("Sorrel"), Box: "B2", Eggs: 1, Seconds: 7200, Felt: ptr(23.4), Usual: ptr(23.3), Moved: ptr(-0.01)},
			{Clutch: "S1", Dam: ptr("Sorrel"), Box: "B1", Zone: room, Eggs: 2, Developed: ptr(0.62), Seconds: 18000, Missing: 1800, Felt: ptr(28.1), Usual: ptr(23.3), Moved: ptr(-0.42),
				Before: &snapshot.DayWindow{Day: "2026-06-08", Window: snapshot.Window{CheckFrom: at.AddDate(0, 0, 10), Likely: at.AddDate(0, 0, 15), LateAfter: at.AddDate(0, 0, 20)}}},
		},
	}, nil
}

func (l looking) Alarms(from, to time.Time) ([]snapshot.PastAlarm, error) {
	n, err := l.Incident(context.Background(), from, to, "")
	return n.Alarms, err
}

func (l looking) Rehearsal(_ context.Context, zone string, wait bool) (snapshot.Rehearsal, bool, error) {
	switch {
	case zone == "attic":
		return snapshot.Rehearsal{}, false, usererr.New("there is no attic")
	case zone == "shelf" && !wait:
		return snapshot.Rehearsal{}, false, nil
	case zone == "incubator":
		return snapshot.Rehearsal{Zone: zone, From: at.AddDate(0, 0, -21), To: at, LearningUntil: ptr(at.Add(time.Hour)),
			Limits: []snapshot.RehearsedLimit{{Band: "wanted", Side: "cold", Limit: 22}}}, true, nil
	}
	return snapshot.Rehearsal{Zone: zone, From: at.AddDate(0, 0, -21), To: at, Limits: []snapshot.RehearsedLimit{
		{Band: "wanted", Side: "cold", Limit: 22, Failures: 25, Called: 23, Lead: ptr(9600.0), Days: 20.9, FalseCalls: 1, Passed: 2},
		{Band: "safe", Side: "cold", Limit: 12, Days: 20.9},
		{Band: "wanted", Side: "warm", Limit: 25, Failures: 25, Days: 9.2, FalseCalls: 2, Passed: 1},
	}}, true, nil
}

// The golden page has what is said; this is what is asked for, and where it is asked from.
func TestIncidentPage(t *testing.T) {
	var asked [3]string
	o := options(season())
	o.Incidents = looking{&asked}
	h := handler(t, o)
	get(h, "/api/v1/incident?from=2026-06-09T08:00:00%2B02:00&to=2026-06-09T14:00:00Z&zone=room")
	if asked != [3]string{"2026-06-09T06:00:00Z", "2026-06-09T14:00:00Z", "room"} {
		t.Errorf("asked for %v", asked)
	}
	var n snapshot.Incident
	if err := json.Unmarshal(get(h, "/api/v1/incident").Body.Bytes(), &n); err != nil || len(n.Clutches) != 2 || n.To.Sub(n.From) != 24*time.Hour {
		t.Errorf("without times: %+v, %v", n, err)
	}
	for _, bad := range []string{"from=soon", "to=2026-13-01T00:00", "zone=attic"} {
		want := http.StatusBadRequest // a program's mistake
		if strings.HasPrefix(bad, "zone") {
			want = http.StatusUnprocessableEntity
		}
		if w := get(h, "/incident?"+bad); w.Code != http.StatusUnprocessableEntity || !elementsOf(t, w).has("input", "name=from") {
			t.Errorf("%s: status %d, or no form to mend it: %s", bad, w.Code, w.Body)
		}
		if w := get(h, "/api/v1/incident?"+bad); w.Code != want {
			t.Errorf("%s: status %d, want %d", bad, w.Code, want)
		}
	}
	if !elementsOf(t, get(h, "/alarm?key=temperature-high.warning%2Froom")).has("a", "href="+alarmpages.IncidentHref(at.Add(-82*time.Minute), at)) {
		t.Error("an alarm's page does not lead to what happened")
	}
}

// Of many alarms that are over the last three stand open.
func TestManyAlarmsThatAreOver(t *testing.T) {
	var asked [3]string
	o := options(season())
	o.Incidents = manyAlarms{looking{&asked}}
	page := elementsOf(t, get(handler(t, o), "/incident"))
	all, folded := page.find("a", "class=row-link"), 0
	for _, fold := range page.find("details") {
		folded += len(fold.inside.find("a", "class=row-link"))
	}
	if len(all) != 10 || folded != 7 {
		t.Errorf("of %d alarms %d are folded, want 7 of 10", len(all), folded)
	}
}

type manyAlarms struct{ looking }

func (l manyAlarms) Alarms(from, to time.Time) ([]snapshot.PastAlarm, error) {
	var all []snapshot.PastAlarm
	for range 10 {
		one, err := l.looking.Alarms(from, to)
		if err != nil {
			return nil, err
		}
		all = append(all, one...)
	}
	return all, nil
}

// eggless is that afternoon in a station without eggs.
type eggless struct{ looking }

func (l eggless) Incident(ctx context.Context, from, to time.Time, zone string) (snapshot.Incident, error) {
	x, err := l.looking.Incident(ctx, from, to, zone)
	x.Clutches = nil
	return x, err
}

// That nothing is known of how long eggs live is said where there were eggs.
func TestIncidentWithoutEggs(t *testing.T) {
	const warning = "no study says how long eggs survive"
	o, asked := options(season()), [3]string{}
	o.Incidents = looking{&asked}
	if page := plainly(t, o, "/incident", 200); !strings.Contains(page, warning) {
		t.Error("the page lacks the warning")
	}
	o.Incidents = eggless{looking{&asked}}
	page := plainly(t, o, "/incident", 200)
	inOrder(t, page, "There were none in any box.")
	if strings.Contains(page, warning) {
		t.Error("without eggs the page speaks of their survival")
	}
}

// A time that cannot be read is refused; the fields then hold the last day.
func TestIncidentOfNoTime(t *testing.T) {
	o, asked := options(season()), [3]string{}
	o.Incidents = looking{&asked}
	for _, query := range []string{"from=yesterday", "to=never", "from=yesterday&to=2026-06-09T14:30"} {
		w := get(handler(t, o), "/incident?"+query)
		fields := elementsOf(t, w).find("input", "type=datetime-local")
		if w.Code != http.StatusUnprocessableEntity || len(fields) != 2 || fields[0].attrs["value"] != "2026-06-08T14:30" || fields[1].attrs["value"] != "2026-06-09T14:30" {
			t.Errorf("%s: status %d, %v", query, w.Code, fields)
		}
	}
}
