package station_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book/ledger"
)

// killed is the panic of a process that dies.
type killed struct{}

// mortal is a store and a sender whose process dies before or after one of their calls.
type mortal struct {
	*outbox.Store
	t         *testing.T
	calls     int           // moments that were passed: one before and one after each call
	dies      int           // the moment at which it dies; 0: never
	life      time.Duration // not 0: it dies after its first write when it is so old
	born, now time.Time     // when it started, and the time
	committed []alert.Message
	received  [][]alert.Message // that came together, under their identities
}

func (m *mortal) pass(wrote bool) {
	m.calls++
	if m.calls == m.dies || m.life > 0 && wrote && m.now.Sub(m.born) >= m.life {
		panic(killed{})
	}
}

func (m *mortal) Commit(ctx context.Context, alarms []alert.Alarm, messages []alert.Message) error {
	m.pass(false)
	if err := m.Store.Commit(ctx, alarms, messages); err != nil {
		m.t.Fatal(err)
	}
	m.committed = append(m.committed, messages...)
	m.pass(true)
	return nil
}

func (m *mortal) Done(ctx context.Context, id string, o alert.Outcome) error {
	m.pass(false)
	if err := m.Store.Done(ctx, id, o); err != nil {
		m.t.Fatal(err)
	}
	m.pass(true)
	return nil
}

func (m *mortal) Send(_ context.Context, x alert.Message) error {
	m.pass(false)
	ids := x.Parts
	if ids == nil {
		ids = []string{x.ID}
	}
	var parts []alert.Message
	for _, id := range ids {
		i := slices.IndexFunc(m.committed, func(c alert.Message) bool { return c.ID == id })
		if i < 0 {
			m.t.Fatalf("%s was sent, and not stored before", id)
		}
		parts = append(parts, m.committed[i])
	}
	m.received = append(m.received, parts)
	m.pass(false)
	return nil
}

// episodeStory is a room whose heater dies, and what is done about it, through a station whose
// records are a file.
type episodeStory struct {
	*mortal
	dir     string
	db      *bbolt.DB
	lives   int
	options station.Options
	station *station.Station
	courier *outbox.Courier
}

// When the heater of an [episodeStory] dies, is seen, and is mended, and when mail is down.
const (
	storyFails    = 29 * time.Hour
	storySeen     = storyFails + 100*time.Minute
	storyMailDown = storyFails + 110*time.Minute
	storyMended   = storyFails + 150*time.Minute
	storyMailUp   = storyFails + 5*time.Hour
	storyEnds     = storyFails + 6*time.Hour
)

// storyCelsius is the room's temperature.
func storyCelsius(since time.Duration) float64 {
	v := 23.3 + 0.1*math.Sin(since.Hours())
	if dead := since - storyFails; dead > 0 {
		v -= 8 * (1 - math.Exp(-min(dead, storyMended-storyFails).Hours()/2)) * math.Exp(-max(0, since-storyMended).Hours()/0.5)
	}
	return v
}

func newEpisodeStory(t *testing.T, dies int, life time.Duration) *episodeStory {
	h := history.Memory(history.Options{GapLimit: 20 * time.Minute})
	boot, err := h.Begin("one", began, 0, true)
	if err != nil {
		t.Fatal(err)
	}
	s := &episodeStory{mortal: &mortal{t: t, dies: dies, life: life}, dir: t.TempDir()}
	s.now = began
	s.options = station.Options{
		Boot: boot, ForecastEvery: 24 * time.Hour, PublishEvery: 365 * 24 * time.Hour,
		Stores: station.Stores{History: h, Ledger: ledger.Memory(), Journal: s.mortal},
		Plan: plan.Plan{
			Name: "house", Units: words.Celsius, Location: time.UTC, Every: 5 * time.Minute, Flush: 5 * time.Minute,
			Probes: []plan.Probe{{Name: "air"}},
			Zones: []plan.Zone{{Name: "room", Kind: "room", Probes: []string{"air"},
				Wanted: &plan.Band{Low: ptr(22), High: ptr(25), Deadband: 0.3, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute},
				Safe:   &plan.Band{Low: ptr(20), High: ptr(27), Deadband: 0.3, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute}}},
			Senders: []plan.Sender{{Name: "mail"}},
		},
	}
	t.Cleanup(func() { s.close() })
	s.open()
	for !s.lived(s.start) {
	}
	return s
}

// open opens the records as the last life left them.
func (s *episodeStory) open() {
	s.t.Helper()
	path := filepath.Join(s.dir, fmt.Sprintf("records-%d.db", s.lives))
	var err error
	if s.lives > 0 { // a killed process leaves the file as it is between two calls
		left, err := os.ReadFile(filepath.Join(s.dir, fmt.Sprintf("records-%d.db", s.lives-1)))
		if err == nil {
			err = os.WriteFile(path, left, 0o600)
		}
		if err != nil {
			s.t.Fatal(err)
		}
		s.close()
	}
	if s.db, err = bbolt.Open(path, 0o600, &bbolt.Options{NoSync: true}); err != nil {
		s.t.Fatal(err)
	}
	if s.Store, err = outbox.New(s.db); err != nil {
		s.t.Fatal(err)
	}
}

func (s *episodeStory) close() {
	if err := s.db.Close(); err != nil {
		s.t.Error(err)
	}
}

// start starts a station and its courier over the records.
func (s *episodeStory) start() {
	var err error
	s.born = s.now
	if s.station, err = station.New(s.t.Context(), s.options, s.now); err != nil {
		s.t.Fatal(err)
	}
	s.courier = outbox.NewCourier(s.mortal, []outbox.Route{{Name: "mail", Sender: s.mortal}}, func() time.Time { return s.now }, func(outbox.Attempt) {})
}

// lived reports whether the process lived through what it did. After a death the records are
// opened again.
func (s *episodeStory) lived(do func()) (lived bool) {
	defer func() {
		if died := recover(); died != nil {
			if died != any(killed{}) {
				panic(died)
			}
			s.lives++
			s.open()
		}
	}()
	do()
	return true
}

// do does a thing, and starts a new station after each death. Again says that the new one is
// asked for it too.
func (s *episodeStory) do(again bool, do func()) {
	for !s.lived(do) {
		for !s.lived(s.start) {
		}
		if !again {
			return
		}
	}
}

// run tells the whole story.
func (s *episodeStory) run() {
	for since := time.Duration(0); since <= storyEnds; since += s.options.Plan.Every {
		s.now = began.Add(since)
		s.do(false, func() {
			if err := s.station.Observe(s.t.Context(), []sensor.Reading{{
				Probe: "air", Stamp: sensor.Stamp{Boot: s.options.Boot.Number, Uptime: since},
				Measurement: sensor.Measurement{Celsius: storyCelsius(since), Humidity: math.NaN()},
			}}); err != nil {
				s.t.Fatal(err)
			}
		})
		if since == storySeen {
			s.do(s.life == 0, func() { // whoever gets no answer asks again
				if err := s.station.Act(s.t.Context(), panel.Action{Do: panel.Acknowledge, Alarm: coldCritical, Who: "keeper"}); err != nil {
					s.t.Fatal(err)
				}
			})
		}
		if since < storyMailDown || since > storyMailUp {
			s.do(true, func() {
				if _, err := s.courier.Round(s.t.Context()); err != nil {
					s.t.Fatal(err)
				}
			})
		}
	}
}

const coldCritical = "temperature-low.critical/room"

// stages are the alarms that messages told of, in the order in which each first came; with the
// number of those that came together.
func (m *mortal) stages() (all []string, digests int) {
	told := map[string]bool{}
	for _, parts := range m.received {
		fresh := false
		for _, p := range parts {
			if !told[p.ID] {
				told[p.ID], fresh = true, true
				all = append(all, fmt.Sprintf("%s %s over=%v", p.Alarm, p.Priority, p.Over))
			}
		}
		if fresh && len(parts) > 1 {
			digests++
		}
	}
	return all, digests
}

// check compares what a person was told with the story of a station that never dies.
func (s *episodeStory) check(name string, want []string) {
	s.t.Helper()
	got, _ := s.stages()
	if !slices.Equal(got, want) {
		s.t.Errorf("%s: told\n%q, want\n%q", name, got, want)
	}
	times, episodes := map[string]int{}, map[string]bool{}
	for _, parts := range s.received {
		for _, p := range parts {
			times[p.ID]++
			episodes[p.Episode()] = true
		}
	}
	repeated := 0
	for _, m := range s.committed {
		if times[m.ID] == 0 {
			s.t.Errorf("%s: %s (%q) was stored and never came", name, m.ID, m.Subject)
		}
		repeated = max(repeated, times[m.ID])
	}
	if len(episodes) != 1 {
		s.t.Errorf("%s: the messages are of the episodes %v, want one", name, episodes)
	}
	if repeated > 2 { // one death, one repeat
		s.t.Errorf("%s: a message came %d times", name, repeated)
	}
}

// A process that is killed at any moment of an episode, or again and again after its writes,
// loses no message and tells nothing twice under another identity: before and after each write to
// the records and each delivery, from "getting too cold" to its end, which is told in a digest.
func TestEpisodeOverKills(t *testing.T) {
	whole := newEpisodeStory(t, 0, 0)
	whole.run()
	want, digests := whole.stages()
	if len(want) < 5 || digests != 1 || whole.lives != 0 {
		t.Fatalf("told %q with %d digests, %d lives", want, digests, whole.lives)
	}
	t.Logf("%d moments; told %q", whole.calls, want)
	for moment := 1; moment <= whole.calls; moment++ {
		s := newEpisodeStory(t, moment, 0)
		s.run()
		s.check(fmt.Sprintf("killed at moment %d of %d", moment, whole.calls), want)
		if s.lives != 1 {
			t.Errorf("moment %d: %d deaths, want one", moment, s.lives)
		}
	}
	s := newEpisodeStory(t, 0, 15*time.Minute)
	s.run()
	s.check("killed each quarter of an hour", want)
	if s.lives < 5 {
		t.Errorf("killed %d times in all", s.lives)
	}
	s = newEpisodeStory(t, 0, time.Minute)
	s.run()
	calls := slices.IndexFunc(want, func(x string) bool { return strings.HasSuffix(x, "true") }) // no end comes before an off-delay is over
	s.check("killed at each poll", want[:calls])
}
