package web

import (
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// A message's link opens one alarm and what can be done about it; to open it, as a
// mail scanner does, does nothing. One that is over is said to be.
func TestOneAlarmAsks(t *testing.T) {
	o, e := options(season()), &ear{}
	o.Writer = e
	h := handler(t, o)
	w := get(h, "/alarm?key=temperature-high.warning%2Froom")
	page := elementsOf(t, w)
	if cards := page.find("article"); w.Code != 200 || len(cards) != 1 || page.sent().Get("alarm") != "temperature-high.warning/room" || !page.has("button", "value=acknowledge") {
		t.Errorf("status %d, %d alarms, of %v", w.Code, len(cards), page.sent())
	}
	if len(e.acts) != 0 {
		t.Errorf("opening it did %+v", e.acts)
	}
	if page := get(h, "/alarm?key=late.notice%2Fbox:B1%2Fclutch:S1"); page.Code != 200 || elementsOf(t, page).has("article") || elementsOf(t, page).has("button") {
		t.Errorf("status %d, or an alarm that is over is shown as one that stands", page.Code)
	}
	o.Writer = nil
	if page := get(handler(t, o), "/alarm?key=temperature-high.warning%2Froom"); elementsOf(t, page).has("button") {
		t.Error("it asks where nothing can be written")
	}
}

// The alarm's page begins with the time that is left, then what it is now; the button stands
// before the steps, and the eggs that are there are counted.
func TestAlarmPageForTheNight(t *testing.T) {
	o := options(season())
	o.Writer = &ear{}
	inOrder(t, plainly(t, o, "/alarm?key=temperature-high.warning%2Froom", 200), "Room too warm", "50 min left", "warmest probe 78.4", "I have seen it", "First", "See that the heater is off, open the door.", "Carry boxes level", "11 eggs wait there, in B1, B2, B3, B6, B7.")
	page := elementsOf(t, get(handler(t, o), "/alarm?key=temperature-high.warning%2Froom"))
	if !page.has("path", "class=coming") || len(page.find("ol", "class=steps")[0].inside.find("li")) != 2 {
		t.Error("it does not draw what comes, or has no steps")
	}
	if page := elementsOf(t, get(handler(t, o), "/alarm?key=drift-up.warning%2Froom")); !page.has("path", "class=temperature") || page.has("path", "class=coming") {
		t.Error("without a prediction it does not draw the day")
	}
}

// What is done first about this alarm takes the place of what is done about its kind.
func TestAlarmPageSaysWhatTheMessageSaysFirst(t *testing.T) {
	n := season()
	i := slices.IndexFunc(n.Alarms, func(a snapshot.Alarm) bool { return a.Key == "temperature-high.warning/room" })
	n.Alarms[i].First = "See that the probe lies where it belongs."
	page := plainly(t, options(n), "/alarm?key=temperature-high.warning%2Froom", 200)
	inOrder(t, page, "First", "See that the probe lies where it belongs.")
	if strings.Contains(page, "See that the heater is off") {
		t.Error("it says what the kind asks for too")
	}
}

func TestSentences(t *testing.T) {
	for advice, want := range map[string]string{"": "", "Go.": "Go.", "Is it on? Look.": "Is it on?|Look.", "At 1.5 g more. Wait": "At 1.5 g more.|Wait", "no end": "no end"} {
		if got := strings.Join(sentences(advice), "|"); got != want {
			t.Errorf("%q has the steps %q, want %q", advice, got, want)
		}
	}
}

// Alarm messages that do not get out stand at the top of the first page from the first
// failed try on.
func TestUndeliveredAlarmStandsFirst(t *testing.T) {
	n := season()
	since, why := at.Add(-10*time.Minute), "dial tcp 192.0.2.1:587: connect: connection refused"
	n.Health.Deliveries = []snapshot.Delivery{{Sender: "mail", Waiting: 1, Err: &why, AlarmsFailSince: &since}}
	page := get(handler(t, options(n)), "/").Body.String()
	at := strings.Index(page, "Alarm messages by mail do not get out since 14:20: the server refuses the connection.")
	if at < 0 || at > strings.Index(page, "</section>") {
		t.Errorf("at %d of the page", at)
	}
}

// Neither the first page nor the alarm's page calls a shelf too cold that is too warm now;
// the alarm that stands comes first.
func TestRecoveredAlarmIsNoPresentFault(t *testing.T) {
	n := season()
	since, ends := at.Add(-6*time.Minute), at.Add(4*time.Minute)
	cold := snapshot.Alarm{Key: "temperature-low.critical/room", Alarm: "temperature-low", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "critical", State: "active",
		Since: at.Add(-time.Hour), Value: ptr(36.5), Limit: ptr(27.0), Stands: true, AlarmOutlook: snapshot.AlarmOutlook{First: "Heater plugged in?", Recovery: &snapshot.Recovery{Since: &since, EndsAt: &ends, Threshold: ptr(27.2)}}}
	n.Alarms = []snapshot.Alarm{cold}
	n.Pending[0].Value, n.Pending[0].Limit = ptr(36.5), ptr(29.0)
	o := options(n)
	h := handler(t, o)
	for _, address := range []string{"/", "/alarm?key=temperature-low.critical%2Froom"} {
		page := strings.ReplaceAll(get(h, address).Body.String(), "\u00a0", " ")
		for _, want := range []string{"was too cold until 14:24", "now 97.7 °F, above the limit 84.2 °F; an alarm follows in 9 min", "Do not add heat."} {
			if !strings.Contains(page, want) {
				t.Errorf("%s has no %q", address, want)
			}
		}
		for _, wrong := range []string{"room too cold", "> too cold", ": too cold", "Heater plugged in", "go now"} {
			if strings.Contains(page, wrong) {
				t.Errorf("%s has %q", address, wrong)
			}
		}
	}
	n.Alarms = append(n.Alarms, snapshot.Alarm{Key: "warm", Alarm: "temperature-high", AlarmPlace: cold.AlarmPlace, Priority: "warning", State: "active", Since: at, Value: ptr(36.5), Limit: ptr(29.0), Stands: true})
	page := strings.ReplaceAll(get(h, "/").Body.String(), "\u00a0", " ")
	for _, want := range []string{"Room too warm", "97.7 °F", "over; closes in 4 min", "Above safe (84.2 °F). Critical in 9 min."} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
}

// A silent probe is named once, and how long it is silent has no peak.
func TestSilentProbeIsNamedOnce(t *testing.T) {
	n := season()
	n.Alarms = []snapshot.Alarm{{Key: "probe-silent.warning/room/probe:shelf", Alarm: "probe-silent", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room"), Probe: ptr("shelf")},
		Priority: "warning", State: "active", Since: at.Add(-22 * time.Minute), Value: ptr(5400.0), Peak: ptr(5400.0), Limit: ptr(600.0), Stands: true}}
	for _, address := range []string{"/", "/alarm?key=probe-silent.warning%2Froom%2Fprobe:shelf"} {
		page := plainly(t, options(n), address, 200)
		inOrder(t, page, "Room, probe shelf silent", "so far 1 h 30 min", "Since 14:08 (22 min). Not yet seen.")
	}
}

// Figures that are old are not called in order.
func TestOldFiguresAreNotInOrder(t *testing.T) {
	n := season()
	n.Alarms, n.Pending = nil, nil
	n.Zones[0].Probes = n.Zones[0].Probes[:1]
	o := options(n)
	inOrder(t, plainly(t, o, "/", 200), "incubator 74.5 °F ● in band")
	o.Clock = func() time.Time { return at.Add(25 * time.Minute) }
	page := plainly(t, o, "/", 200)
	inOrder(t, page, "the station stopped reporting 25 min ago", "incubator 74.5 °F ○ old")
	if strings.Contains(page, "in band") {
		t.Error("old figures are said to be in band")
	}
	if strings.Count(page, "stopped reporting") != 1 {
		t.Error("the page says more than once that the station stopped")
	}
}

// Where the humidity left its band, the words of the day's drawing say by how much.
func TestDayTellsOfHumidityOutside(t *testing.T) {
	n := season()
	if page := plainly(t, options(n), "/z/room", 200); strings.Contains(page, "Humidity 52 %") {
		t.Error("a humidity in its band is told")
	}
	n.Zones[1].HumidityBand.Low = ptr(0.6)
	inOrder(t, plainly(t, options(n), "/z/room", 200), "Last 24 h:", "Humidity 52 %.", "Tinted: wanted.")
}

// Of two warnings that nobody has seen, the one whose safe limit comes near leads, though the
// other is older; of two such, the nearer.
func TestWhatComesLeads(t *testing.T) {
	n := season()
	place := func(zone string) snapshot.AlarmPlace { return snapshot.AlarmPlace{Zone: ptr(zone)} }
	coming := func(after time.Duration) snapshot.AlarmOutlook {
		return snapshot.AlarmOutlook{Coming: &snapshot.Coming{Limit: 20, About: at.Add(after), Earliest: at.Add(after / 2)}}
	}
	n.Alarms = []snapshot.Alarm{
		{Key: "a", Alarm: "humidity-low", AlarmPlace: place("incubator"), Priority: "warning", State: "active", Since: at.Add(-14 * time.Hour), Stands: true},
		{Key: "b", Alarm: "temperature-low", AlarmPlace: place("incubator"), Priority: "warning", State: "active", Since: at.Add(-2 * time.Hour), Stands: true, AlarmOutlook: coming(3 * time.Hour)},
		{Key: "c", Alarm: "temperature-low", AlarmPlace: place("room"), Priority: "warning", State: "active", Since: at.Add(-time.Hour), Stands: true, AlarmOutlook: coming(2 * time.Hour)},
	}
	inOrder(t, plainly(t, options(n), "/", 200), "▼ Room too cold", "and 2 more alarms", "Other alarms", "incubator: too cold", "incubator: too dry")
}
