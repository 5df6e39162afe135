package alertmanager_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// fakeReceiver keeps for each set of labels whether its alert stands.
type fakeReceiver struct {
	stands   map[string]bool
	requests int
	posted   int
	episodes []string
}

func (f *fakeReceiver) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var all []struct {
		Labels, Annotations map[string]string
		StartsAt            *time.Time
		EndsAt              time.Time
	}
	if err := json.NewDecoder(r.Body).Decode(&all); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	f.requests++
	for _, x := range all {
		f.posted++
		f.stands[fmt.Sprint(x.Labels)] = x.StartsAt != nil
		f.episodes = append(f.episodes, x.Annotations["episode"])
	}
}

func (f *fakeReceiver) standing() (all []string) {
	for _, l := range slices.Sorted(maps.Keys(f.stands)) {
		if f.stands[l] {
			all = append(all, l)
		}
	}
	return all
}

// episode is one message of an episode of a zone that gets too cold.
func episode(id string, kind alert.Kind, p alert.Priority, over bool) alert.Message {
	k := alert.Key{Kind: kind, Priority: p, Zone: "room"}
	t := alert.NewThread(k, "room", time.Date(2026, 4, 2, 18, 0, 0, 0, time.UTC))
	t.Over = over
	return alert.Message{ID: id, Alarm: k.String(), At: time.Now(), Priority: p, Subject: "s", Body: "b", Over: over, Threads: []alert.Thread{t}}
}

func fake(t *testing.T) (*fakeReceiver, string) {
	f := &fakeReceiver{stands: map[string]bool{}}
	srv := httptest.NewServer(f)
	t.Cleanup(srv.Close)
	return f, srv.URL
}

const (
	warningLabels  = "map[alertname:temperature-low priority:warning station:shed zone:room]"
	criticalLabels = "map[alertname:temperature-low priority:critical station:shed zone:room]"
)

// An episode is one alert that stands, whatever alarm speaks for it: a drift and the band's
// alarm are one, the end of a drift alone ends nothing, and what gets urgent ends what was
// not.
func TestEpisodeIsOneAlert(t *testing.T) {
	f, url := fake(t)
	s := sender(t, url)
	driftOver := episode("3", alert.DriftDown, alert.Warning, false)
	driftOver.Over = true // of the drift, and the episode goes on
	for i, x := range []struct {
		m    alert.Message
		want []string
	}{
		{episode("1", alert.DriftDown, alert.Warning, false), []string{warningLabels}},
		{episode("2", alert.TemperatureLow, alert.Warning, false), []string{warningLabels}},
		{driftOver, []string{warningLabels}},
		{episode("4", alert.TemperatureLow, alert.Critical, false), []string{criticalLabels}},
		{episode("5", alert.TemperatureLow, alert.Warning, false), []string{warningLabels}},
		{episode("6", alert.TemperatureLow, alert.Warning, true), nil},
		{episode("7", alert.TemperatureLow, alert.Warning, false), []string{warningLabels}}, // the next one
	} {
		x.m.At = time.Now()
		if err := s.Send(t.Context(), x.m); err != nil {
			t.Fatal(err)
		}
		if got := f.standing(); !slices.Equal(got, x.want) {
			t.Errorf("message %d: %q stand, want %q", i+1, got, x.want)
		}
		if f.requests != i+1 {
			t.Errorf("message %d: %d requests", i+1, f.requests)
		}
	}
	if got := slices.Compact(slices.Sorted(slices.Values(f.episodes))); !slices.Equal(got, []string{"room/too-cold/20260402T180000Z"}) {
		t.Errorf("episodes %q", got)
	}
}

// A message that was held up and comes after a newer one of its episode changes nothing.
func TestHeldUpMessageBeginsNothing(t *testing.T) {
	f, url := fake(t)
	s := sender(t, url)
	held, over := episode("1", alert.TemperatureLow, alert.Warning, false), episode("2", alert.TemperatureLow, alert.Warning, true)
	held.At = over.At.Add(-2 * time.Hour)
	for _, m := range []alert.Message{over, held} {
		if err := s.Send(t.Context(), m); err != nil {
			t.Fatal(err)
		}
	}
	if got := f.standing(); len(got) > 0 || f.requests != 1 {
		t.Errorf("%q stand after %d requests", got, f.requests)
	}
}

// What an earlier process began ends with the episode, whichever priority it had.
func TestEpisodeEndsAfterARestart(t *testing.T) {
	f, url := fake(t)
	for _, m := range []alert.Message{
		episode("1", alert.TemperatureLow, alert.Warning, false), episode("2", alert.TemperatureLow, alert.Critical, false), episode("3", alert.TemperatureLow, alert.Warning, true),
	} {
		if err := sender(t, url).Send(t.Context(), m); err != nil { // each by a process of its own
			t.Fatal(err)
		}
	}
	if got := f.standing(); len(got) > 0 {
		t.Errorf("%q stand after the end", got)
	}
}

// A message of several episodes begins or ends the alert of each.
func TestSharedMessageIsAnAlertForEachEpisode(t *testing.T) {
	f, url := fake(t)
	s := sender(t, url)
	shared := episode("1", alert.TemperatureLow, alert.Warning, false)
	silent := alert.Key{Kind: alert.ProbeSilent, Priority: alert.Critical, Zone: "room", Probe: "air"}
	shared.Threads = append(shared.Threads, alert.NewThread(silent, "room", time.Now()))
	if err := s.Send(t.Context(), shared); err != nil {
		t.Fatal(err)
	}
	want := []string{"map[alertname:probe-silent priority:critical probe:air station:shed zone:room]", warningLabels}
	if got := f.standing(); !slices.Equal(got, want) || f.requests != 1 {
		t.Errorf("%q stand after %d requests", got, f.requests)
	}
	for i := range shared.Threads {
		shared.Threads[i].Over = true
	}
	if err := s.Send(t.Context(), shared); err != nil {
		t.Fatal(err)
	}
	if got := f.standing(); len(got) > 0 || f.posted != 4 {
		t.Errorf("%q stand after the end; %d alerts posted", got, f.posted)
	}
}
