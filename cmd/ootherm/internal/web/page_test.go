package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
)

// ear takes what is written; its errors are scripted.
type ear struct {
	acts  []page.Action
	notes []string
	err   error
}

func (e *ear) Act(_ context.Context, a page.Action) error { e.acts = append(e.acts, a); return e.err }

func (e *ear) Note(_ context.Context, d book.Draft) error {
	var lines strings.Builder
	if err := bookfile.WriteJSON(&lines, slices.Values(d.Entries())); err != nil {
		return err
	}
	e.notes = append(e.notes, lines.String())
	return e.err
}

func TestPageShowsEveryZoneBoxAndClutch(t *testing.T) {
	n := season()
	w := get(handler(t, options(n)), "/")
	body, page := w.Body.String(), elementsOf(t, w)
	names := func(class string) []string {
		var all []string
		for _, c := range page.find("", "class="+class) {
			all = append(all, c.inside.find("span", "class=name").texts()...)
		}
		return all
	}
	probes, links := names("probes"), page.links()
	for _, z := range n.Zones {
		if !page.has("details", "data-fold=zone "+z.Zone) || !slices.Contains(page.find("h3").texts(), z.Zone) {
			t.Errorf("zone %s is not on the page", z.Zone)
		}
		for _, p := range z.Probes {
			if !slices.Contains(probes, p.Probe) {
				t.Errorf("probe %s is not on the page", p.Probe)
			}
		}
	}
	for _, b := range n.Boxes {
		if links[boxHref(b.Box)] != b.Box {
			t.Errorf("box %s is not on the page", b.Box)
		}
		for _, c := range b.Clutches {
			if links[clutchHref(c.Clutch)] == "" {
				t.Errorf("clutch %s is not on the page", c.Clutch)
			}
		}
	}
	for _, bad := range []string{"Belief", "belief", "T*", "IIO", "Wilson", "chattering", "shelved", "NaN", "185.0"} {
		if strings.Contains(body, bad) {
			t.Errorf("the page says %q", bad)
		}
	}
	if page.has("form", "method=post") {
		t.Error("a page that only reads has a form")
	}
}

func TestHeadline(t *testing.T) {
	calm := func() *snapshot.Snapshot {
		n := season()
		n.Alarms, n.Zones, n.Health.Waiting = nil, n.Zones[:1], 0
		n.Zones[0].Probes = n.Zones[0].Probes[:1]
		return n
	}
	for name, c := range map[string]struct {
		make func() (*snapshot.Snapshot, time.Duration)
		want string
	}{
		"the alarm nobody has seen": {func() (*snapshot.Snapshot, time.Duration) { return season(), 0 }, "Room too warm"},
		"critical before warning": {func() (*snapshot.Snapshot, time.Duration) {
			n := season()
			n.Alarms = append(n.Alarms, snapshot.Alarm{Alarm: "temperature-low", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("incubator")}, Priority: "critical", State: "acknowledged", Since: at, Value: ptr(19.0), Limit: ptr(20.0)})
			return n, 0
		}, "Incubator too cold"},
		"nothing": {func() (*snapshot.Snapshot, time.Duration) { return calm(), 0 }, "All is well"},
		"out of band, no alarm yet": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Zones[0].Probes[0].Celsius = ptr(24.5)
			return n, 0
		}, "Incubator: warm"},
		"at the low limit": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Zones[0].Probes[0].Celsius = ptr(22.2222)
			return n, 0
		}, "Incubator: cool"},
		"no reading": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Zones[0].Celsius = nil
			return n, 0
		}, "Incubator: no reading"},
		"a probe out": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Zones[0].Probes[0].Status = "stale"
			return n, 0
		}, "Incubator: 1 probe out"},
		"put aside is no alarm": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Alarms = season().Alarms[3:]
			return n, 0
		}, "All is well"},
		"a zone switched off": {func() (*snapshot.Snapshot, time.Duration) { return switchedOffIn(calm(), true), 0 }, "Incubator: switched off for work"},
		"a part of it":        {func() (*snapshot.Snapshot, time.Duration) { return switchedOffIn(calm(), false), 0 }, "Incubator: partly switched off for work"},
		"something of the station": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Alarms = []snapshot.Alarm{{Key: "storage-failing.critical", Alarm: "storage-failing", State: "out-of-service"}}
			return n, 0
		}, "The zones are in order; something is switched off for work"},
		"the readings are not saved": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Health.FlushFailing = true
			return n, 0
		}, "The last readings could not be saved (saved 2 min ago)"},
		"the clock": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Station.Clock = "unverified"
			return n, 0
		}, "The time of day is not verified"},
		"a notice that was seen": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Alarms = []snapshot.Alarm{{Key: "d", Alarm: "drying", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("incubator"), Box: ptr("B1")}, Priority: "notice", State: "acknowledged", Since: at}}
			return n, 0
		}, "All is well"},
		"too cold, and its alarm is off": {func() (*snapshot.Snapshot, time.Duration) {
			n := calm()
			n.Zones[0].Celsius = ptr(21.1)
			n.Alarms = []snapshot.Alarm{
				{Key: "d", Alarm: "drying", AlarmPlace: snapshot.AlarmPlace{Box: ptr("B1")}, Priority: "notice", State: "active", Since: at},
				{Key: "c", Alarm: "temperature-low", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("incubator")}, Priority: "warning", State: "shelved", Since: at, Until: ptr(at.Add(40 * time.Minute)), Stands: true}}
			return n, 0
		}, "Incubator 70.0 °F, too cold; alarm quiet until 15:10"},
		"old figures are not the present": {func() (*snapshot.Snapshot, time.Duration) { return season(), 31 * time.Second },
			"What is below is old: the station stopped reporting 31 s ago"},
	} {
		n, lag := c.make()
		o := options(n)
		o.Clock = func() time.Time { return at.Add(lag) }
		h1 := elementsOf(t, get(handler(t, o), "/")).find("h1")[0]
		shape := h1.inside.find("span")[0].text
		if got := strings.TrimSpace(strings.TrimPrefix(h1.text, shape)); got != c.want {
			t.Errorf("%s: the headline is %q, want %q", name, got, c.want)
		}
	}
}

// unlikely is a clutch without a likely day.
func unlikely(c snapshot.Clutch) snapshot.Clutch {
	w := *c.Window
	w.Likely = time.Time{}
	c.Window = &w
	return c
}

// tasks are what the first page says to do today, a line each.
func tasks(t *testing.T, n *snapshot.Snapshot) (all []string) {
	t.Helper()
	for _, ul := range elementsOf(t, get(handler(t, options(n)), "/")).find("ul", "class=tasks") {
		for _, li := range ul.inside.find("li") {
			all = append(all, li.text)
		}
	}
	return all
}

// later is a clutch that is to be checked from a later time.
func later(c snapshot.Clutch, by time.Duration) snapshot.Clutch {
	c.Window.CheckFrom = c.Window.CheckFrom.Add(by)
	return c
}

// Eggs that want a look today are the first tasks; those that do not are told of below.
func TestEggsOfToday(t *testing.T) {
	for name, c := range map[string]struct {
		boxes []snapshot.Box
		want  string
	}{
		"the first window":     {[]snapshot.Box{box("B5", "room", "", clutch("Y1", "Yarrow", .7, 20, 26, 34, "waiting")), box("B1", "room", "", clutch("S1", "Sorrel", .9, 3, 7, 11, "waiting"))}, ""},
		"check daily":          {[]snapshot.Box{box("B4", "room", "", in(snapshot.StateCheckDaily, clutch("T2", "Tansy", .9, -2, 1, 6, "waiting")))}, "Look into B4Check daily: Tansy T2, likely 10 June."},
		"check daily, latched": {[]snapshot.Box{box("B4", "room", "", in(snapshot.StateCheckDaily, clutch("T2", "Tansy", .9, 2, 5, 9, "waiting")))}, "Look into B4Check daily: Tansy T2, likely 14 June."},
		"no likely day":        {[]snapshot.Box{box("B4", "room", "", unlikely(in(snapshot.StateCheckDaily, clutch("T2", "Tansy", .9, -2, 1, 6, "waiting"))))}, "Look into B4Check daily: Tansy T2, any day now, or not at all."},
		"late":                 {[]snapshot.Box{box("B4", "room", "", in(snapshot.StateLate, clutch("T2", "Tansy", .9, -9, -5, -1, "waiting")))}, "Look into B4◆ late: Tansy T2, expected by 8 June."},
		"pipped":               {[]snapshot.Box{box("B4", "room", "", in(snapshot.StateHatching, clutch("T2", "Tansy", .9, 5, 8, 11, "waiting", "pipped")))}, "Look into B4Look now: Tansy T2, pipped."},
		"a mate hatched":       {[]snapshot.Box{box("B4", "room", "", in(snapshot.StateHatching, clutch("T2", "Tansy", .9, 5, 8, 11, "waiting", "hatched")))}, "Look into B4Look now: Tansy T2, an egg of the clutch hatched."},
		"two of one box":       {[]snapshot.Box{box("B4", "room", "", in(snapshot.StateCheckDaily, clutch("T2", "Tansy", .9, -2, 1, 6, "waiting")), in(snapshot.StateLate, clutch("T1", "Tansy", .9, -9, -5, -1, "waiting")))}, "Look into B4◆ late: Tansy T1, expected by 8 June. Check daily: Tansy T2, likely 10 June."},
		"from today, before the minute of its state": {[]snapshot.Box{box("B4", "room", "", later(clutch("T2", "Tansy", .9, 0, 5, 9, "waiting"), 9*time.Hour))}, "Look into B4Check from today: Tansy T2, likely 14 June."},
		"from tomorrow":       {[]snapshot.Box{box("B4", "room", "", later(clutch("T2", "Tansy", .9, 0, 5, 9, "waiting"), 10*time.Hour))}, ""},
		"finished is not due": {[]snapshot.Box{box("B4", "room", "", in("", clutch("T2", "Tansy", .9, -9, -5, -1, "hatched", "lost")))}, ""},
	} {
		n := season()
		n.Boxes, n.Dams, n.Unplaced = c.boxes, nil, nil
		if got := strings.Join(tasks(t, n), "|"); got != c.want {
			t.Errorf("%s: the tasks are %q, want %q", name, got, c.want)
		}
	}
	n := season()
	n.Boxes = []snapshot.Box{box("B5", "room", "", clutch("Y1", "Yarrow", .7, 20, 26, 34, "waiting")), box("B1", "room", "", clutch("S1", "Sorrel", .9, 3, 7, 11, "waiting"))}
	if body := get(handler(t, options(n)), "/").Body.String(); !strings.Contains(body, "Next: Sorrel S1 in B1, check from 12 June.") {
		t.Error("the page does not say what comes next")
	}
}

// The most pressing box comes first; each leads to its eggs, or to the form where one egg is
// left.
func TestTasksLeadToTheirForms(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	n := season()
	n.Boxes, n.Dams, n.Unplaced = nil, nil, nil
	for i, name := range []string{"B1", "B2", "B3"} {
		n.Boxes = append(n.Boxes, box(name, "room", "", in(snapshot.StateCheckDaily, clutch("T"+name, "Tansy", .9, -2, 4-i, 6, []string{"waiting", "waiting"}[i%2:]...))), box("later"+name, "room", "", clutch("L"+name, "Lovage", .5, 20, 26, 34, "waiting")))
	}
	o := options(n)
	o.Writer, o.Book = d, d
	var got []string
	for _, a := range elementsOf(t, get(handler(t, o), "/")).find("ul", "class=tasks")[0].inside.find("a") {
		got = append(got, a.attrs["href"])
	}
	if want := []string{"/c/TB3", "/c/TB3#eggs", "/c/TB2", "/note/hatched?egg=TB2-1", "/c/TB1", "/c/TB1#eggs"}; !slices.Equal(got, want) {
		t.Errorf("the tasks lead to %v, want %v", got, want)
	}
}

// A long list of tasks folds its end away; what is late is never behind what is not.
func TestLongTodayIsFolded(t *testing.T) {
	const boxes = 11
	n := season()
	n.Boxes, n.Dams, n.Unplaced = nil, nil, nil
	for i := range boxes - 1 {
		n.Boxes = append(n.Boxes, box(fmt.Sprintf("B%d", i), "room", "", in(snapshot.StateHatching, clutch(fmt.Sprintf("T%d", i), "Tansy", .9, 5, 8, 11, "waiting", "pipped"))))
	}
	n.Boxes = append(n.Boxes, box("late", "room", "", in(snapshot.StateLate, clutch("L1", "Lovage", .9, -9, -5, -1, "waiting"))))
	alarms := n.Alarms
	for most, standing := range map[int][]snapshot.Alarm{tasksBeside: alarms, tasksListed: nil} {
		n := *n
		n.Alarms = standing
		first := elementsOf(t, get(handler(t, options(&n)), "/"))
		listed := first.find("ul", "class=tasks")[0].inside.find("li")
		fold := first.find("details", "data-fold=today")
		if len(fold) != 1 || len(listed) != most || !strings.HasPrefix(listed[0].text, "Look into late") {
			t.Fatalf("%d folds, %d tasks listed, the first %q", len(fold), len(listed), listed[0].text)
		}
		if got := len(fold[0].inside.find("li")); got != boxes-most || !strings.Contains(fold[0].text, fmt.Sprint(boxes-most, " more to do today")) {
			t.Errorf("the fold has %d tasks and says %q", got, fold[0].text)
		}
		n.Boxes = n.Boxes[:most]
		if elementsOf(t, get(handler(t, options(&n)), "/")).has("details", "data-fold=today") {
			t.Errorf("%d tasks are folded", most)
		}
	}
}

// A wedge begins where the eggs were laid, also where the first window was shown later.
func TestWedgeBeginsWhereLaid(t *testing.T) {
	c := clutch("S1", "Sorrel", .94, 3, 7, 11, "waiting")
	laid := chart.Seconds(c.Laid.Latest)
	line := chart.NewTimeLine(c.Laid.Latest.AddDate(0, 0, -1), at, at.AddDate(0, 0, 20), time.UTC)
	s := firstPage{Site: &page.Site{Options: options(season())}}
	begin := func(course ...chart.Point) string {
		_, d, _ := strings.Cut(string(s.clutchRow(line, box("B1", "room", "", c), c, at, nil, course).Drawing), `class="wedge" d="`)
		d, _, ok := strings.Cut(d, "l")
		if !ok {
			t.Fatal("there is no wedge")
		}
		return d
	}
	if got, want := begin(chart.Point{X: laid + 50*86400, Y: .9}), begin(); got != want {
		t.Errorf("the wedge begins at %s, want %s", got, want)
	}
}

// The time line has a row for each clutch that waits, in its box, the box that is due first
// before the others; finished clutches are folded.
func TestTimeLine(t *testing.T) {
	page := elementsOf(t, get(handler(t, options(season())), "/"))
	var rows []string
	for _, a := range page.find("a", "class=entry") {
		rows = append(rows, a.inside.find("b")[0].text)
	}
	if want := []string{"L1", "T2", "S1", "Y1", "T1", "S2", "M1", "Y2"}; !slices.Equal(rows, want) {
		t.Errorf("the rows are %v, want %v", rows, want)
	}
	row := page.find("a", "href=/c/S1", "class=entry")[0]
	if want := "S1 Sorrel : 2 eggs waiting, 12-20 Jun likely 16 Jun 94 % developed"; row.text != want || len(row.inside.find("path", "class=egg")) != 1 || len(row.inside.find("path", "class=wedge")) != 1 {
		t.Errorf("the row of S1 says %q, want %q", row.text, want)
	}
	if late := page.find("a", "href=/c/L1", "class=entry")[0]; !late.inside.has("rect", "class=late") || !strings.Contains(late.text, "late since 8 Jun") {
		t.Errorf("the row of a late clutch says %q", late.text)
	}
	if young := page.find("a", "href=/c/Y2", "class=entry")[0]; young.inside.has("path", "class=egg") || !strings.Contains(young.text, "no window yet") {
		t.Errorf("the row of a clutch without a window says %q", young.text)
	}
	fold := page.find("details", "data-fold=finished")
	if len(fold) != 1 || fold[0].inside.links()["/c/H1"] != "H1 Hyssop 2 eggs hatched" {
		t.Errorf("the finished clutches are %v", fold)
	}
}

// A season of forty boxes with sixty clutches fits into the bytes that a phone on a bad network waits for. The
// two figures are our choice.
func TestFirstPageIsLight(t *testing.T) {
	const most, packed = 80_000, 20_000
	n := season()
	n.Boxes, n.Unplaced = nil, nil
	for i := range 40 {
		b := fmt.Sprintf("B%d", i+1)
		x := box(b, "room", "", clutch(fmt.Sprintf("S%d", i), "Sorrel", float64(i)/41, 3+i, 9+i, 17+i, "waiting", "waiting"))
		if i%2 == 0 {
			x.Clutches = append(x.Clutches, clutch(fmt.Sprintf("T%d", i), "Tansy", float64(i)/60, 30+i, 39+i, 57+i, "waiting", "lost"))
		}
		n.Boxes = append(n.Boxes, x)
	}
	page := get(handler(t, options(n)), "/").Body.Bytes()
	small := ask(handler(t, options(n)), "/", with("Accept-Encoding", "gzip")).Body
	if len(page) > most || small.Len() > packed {
		t.Errorf("the page has %d bytes, %d compressed; want at most %d and %d", len(page), small.Len(), most, packed)
	}
	t.Logf("%d bytes, %d compressed", len(page), small.Len())
}

// A name is a person's free text; the page shows it and never runs it.
func TestNamesAreNotMarkup(t *testing.T) {
	const evil = `<script>alert(1)</script>"'><img src=x onerror=alert(2)>/../?a=b#c`
	n := season()
	n.Station.Name, n.Station.Version = evil, evil
	n.Zones[0].Zone, n.Zones[0].Kind, n.Zones[0].Probes[0].Probe, n.Zones[0].Probes[1].Cause = evil, evil, evil, ptr(evil)
	n.Boxes[0].Box, n.Boxes[0].Zone, n.Boxes[0].Probe = evil, evil, ptr(evil)
	c := &n.Boxes[0].Clutches[0]
	c.Clutch, c.Dam, c.Profile, c.Because = evil, ptr(evil), ptr(evil), []string{evil}
	c.Eggs[0] = snapshot.Egg{Egg: evil, Slot: ptr(evil), Fate: evil}
	n.Alarms[1].Key, n.Alarms[1].Alarm, n.Alarms[1].Zone, n.Alarms[1].Probe, n.Alarms[1].State = evil, evil, ptr(evil), ptr(evil), evil
	o := options(n)
	o.Writer = &ear{}
	h := handler(t, o)
	for _, target := range []string{"/", boxHref(evil), clutchHref(evil), "/b/" + strings.Repeat("%3Cscript%3E", 3)} {
		r := httptest.NewRequest(http.MethodGet, target, nil)
		r.Host, r.RemoteAddr = "localhost", "127.0.0.1:9"
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		isFile := page.IsFile
		page := elementsOf(t, w)
		foreign := slices.ContainsFunc(page.find("script"), func(e *element) bool { return !isFile(e.attrs["src"]) || e.text != "" })
		if page.has("img") || page.has("", "onerror") || foreign {
			t.Errorf("%s: a name is markup in\n%s", target, w.Body)
		}
		if strings.HasPrefix(target, "/c/") && w.Code != 200 {
			t.Errorf("%s: status %d: a link on the page does not lead to its clutch", target, w.Code)
		}
	}
	if page := elementsOf(t, get(h, "/")); !page.has("a", "href="+strings.ReplaceAll(clutchHref(evil), "'", "%27")) {
		t.Error("the first page has no link to the clutch")
	}
}

func TestHistoryThatCannotBeReadLeavesThePage(t *testing.T) {
	o := options(season())
	o.Past = past{every: time.Minute, fail: errors.New("a torn block")}
	w := get(handler(t, o), "/")
	page := elementsOf(t, w)
	if w.Code != 200 || page.has("path", "class=temperature") || len(page.find("details", "data-fold=zone room")) != 1 || page.find("span", "class=big")[0].text != "78.4 °F" {
		t.Errorf("status %d; the page must still tell the present:\n%s", w.Code, w.Body)
	}
}

// switchedOffIn puts the incubator's alarms out of service, all or one.
func switchedOffIn(n *snapshot.Snapshot, all bool) *snapshot.Snapshot {
	for i, kind := range []string{"temperature-low", "temperature-high", "switched-off"} {
		n.Known = append(n.Known, snapshot.AlarmID{Key: kind + ".warning/incubator", Alarm: kind, Zone: "incubator"})
		if i == 0 || all && kind != "switched-off" {
			n.Alarms = append(n.Alarms, snapshot.Alarm{Key: kind + ".warning/incubator", Alarm: kind, AlarmPlace: snapshot.AlarmPlace{Zone: ptr("incubator")}, State: "out-of-service", Since: at})
		}
	}
	return n
}

// What reminds of a zone that is switched off offers to switch it on, and is not itself
// switched off.
func TestTheReminderSwitchesOn(t *testing.T) {
	n := season()
	n.Alarms = []snapshot.Alarm{{Key: "switched-off.notice/room", Alarm: "switched-off", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "notice", State: "active", Since: at.Add(-30 * time.Hour), Value: ptr(108000.0)}}
	o := options(n)
	o.Writer = &ear{}
	var do []string
	for _, b := range elementsOf(t, get(handler(t, o), "/")).find("article")[0].inside.find("button") {
		do = append(do, b.attrs["value"])
	}
	if want := []string{"acknowledge", "in-service"}; !slices.Equal(do, want) {
		t.Errorf("its buttons do %v, want %v", do, want)
	}
}

// A program that asks for plain text gets a sentence without a page round it; a browser
// gets the page.
func TestSentenceInPlainText(t *testing.T) {
	h := handler(t, options(season()))
	for accept, page := range map[string]bool{
		"application/json, text/plain, */*;q=0.1": false,
		"text/html,application/xhtml+xml,*/*":     true,
		"":                                        true,
	} {
		r := httptest.NewRequest(http.MethodGet, "http://127.0.0.1:8080/clutch/none", nil)
		r.Header.Set("Accept", accept)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusNotFound || strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") != page || len(w.Body.String()) < 20 {
			t.Errorf("Accept %q: %d\n%s", accept, w.Code, w.Body)
		}
	}
}
