package senders_test

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	netmail "net/mail"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/forecastlog/forecastlogtest"
)

// mailServer keeps the mails that it is given.
type mailServer struct {
	mu    sync.Mutex
	mails []*netmail.Message
}

func (s *mailServer) NewSession(*smtp.Conn) (smtp.Session, error) { return mailSession{s}, nil }

type mailSession struct{ *mailServer }

func (mailSession) Reset()                               {}
func (mailSession) Logout() error                        { return nil }
func (mailSession) Mail(string, *smtp.MailOptions) error { return nil }
func (mailSession) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (s mailSession) Data(r io.Reader) error {
	m, err := netmail.ReadMessage(r)
	if err == nil {
		s.mu.Lock()
		s.mails = append(s.mails, m)
		s.mu.Unlock()
	}
	return err
}

// listenForMail starts a mail server on loopback, and gives its port.
func listenForMail(t *testing.T) (*mailServer, int) {
	t.Helper()
	s := &mailServer{}
	server := smtp.NewServer(s)
	server.Domain = "localhost"
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() { defer close(done); _ = server.Serve(l) }() // it ends when the server is closed
	t.Cleanup(func() { _ = server.Close(); <-done })
	return s, l.Addr().(*net.TCPAddr).Port
}

// alertReceiver keeps which alerts stand, by their labels.
type alertReceiver struct{ stands map[string]bool }

func (a alertReceiver) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var all []struct {
		Labels   map[string]string
		StartsAt *time.Time
	}
	if err := json.NewDecoder(r.Body).Decode(&all); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	for _, x := range all {
		if a.stands[fmt.Sprint(x.Labels)] = x.StartsAt != nil; x.StartsAt == nil {
			delete(a.stands, fmt.Sprint(x.Labels))
		}
	}
}

// A heater dies and is mended, in the whole station: every way out groups the messages of an
// episode, and names it alike; at the end nothing stands at an alert receiver.
func TestEpisodeOnEveryWay(t *testing.T) {
	mails, port := listenForMail(t)
	receiver := alertReceiver{map[string]bool{}}
	alerts := httptest.NewServer(receiver)
	defer alerts.Close()
	type payload struct {
		Episode  string
		Subject  string
		Episodes []struct {
			ID, Zone, Side, Subject string
			Over                    bool
		}
	}
	var posted []payload
	hook := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var p payload
		if err := json.NewDecoder(r.Body).Decode(&p); err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		posted = append(posted, p)
	}))
	defer hook.Close()

	dir := t.TempDir()
	path := filepath.Join(dir, "ootherm.toml")
	text := fmt.Sprintf("[station]\nname = \"shed\"\ndata = %q\n[[probe]]\nname = \"air\"\ndriver = \"simulated\"\n[[zone]]\nname = \"room\"\nprobes = [\"air\"]\n"+
		"wanted = { low = \"21C\", high = \"25C\" }\nsafe = { low = \"18C\", high = \"28C\" }\n"+
		"[[sender]]\nname = \"mail\"\nkind = \"email\"\nhost = \"127.0.0.1\"\nport = %d\ntls = \"none\"\nto = [\"keeper@example.org\"]\n"+
		"[[sender]]\nname = \"hook\"\nkind = \"webhook\"\nurl = %q\n[[sender]]\nname = \"fleet\"\nkind = \"alertmanager\"\nurl = %q\n", filepath.Join(dir, "data"), port, hook.URL, alerts.URL)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.FromConfig(c)
	if err != nil {
		t.Fatal(err)
	}
	p.Every = time.Minute
	began := time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)
	now := began
	routes, err := senders.Routes(c, p, func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	h := history.Memory(history.Options{GapLimit: 10 * time.Minute})
	boot, err := h.Begin("one", began, 0, true)
	if err != nil {
		t.Fatal(err)
	}
	journal := outbox.NewMemory()
	s, err := station.New(t.Context(), station.Options{Plan: p, Boot: boot, ForecastEvery: 24 * time.Hour,
		Stores: station.Stores{History: h, Ledger: ledger.Memory(), Journal: journal, Shown: forecastlogtest.Open(t)}}, began)
	if err != nil {
		t.Fatal(err)
	}
	sent := map[string]bool{}
	for ; now.Sub(began) < 60*time.Hour; now = now.Add(p.Every) {
		v := 23 + 0.05*math.Sin(now.Sub(began).Hours())
		if dead := now.Sub(began).Hours() - 24; dead > 0 { // ten hours long, then it warms
			v -= 9 * (1 - math.Exp(-min(dead, 10)/3)) * math.Exp(-max(0, dead-10)/1.5)
		}
		if err := s.Observe(t.Context(), []sensor.Reading{{Probe: "air", Stamp: sensor.Stamp{Boot: boot.Number, Uptime: now.Sub(began)},
			Measurement: sensor.Measurement{Celsius: v, Humidity: math.NaN()}}}); err != nil {
			t.Fatal(err)
		}
		waiting, err := journal.Waiting(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range waiting {
			i := slices.IndexFunc(routes, func(r outbox.Route) bool { return r.Name == m.Sender })
			if sent[m.ID+m.Sender] || i < 0 {
				continue
			}
			sent[m.ID+m.Sender] = true
			if err := routes[i].Sender.Send(t.Context(), m); err != nil {
				t.Fatal(err)
			}
		}
	}

	if len(posted) < 4 || len(mails.mails) != len(posted) {
		t.Fatalf("%d posted, %d mails", len(posted), len(mails.mails))
	}
	roots, open := map[string]string{}, map[string]bool{}
	for i, p := range posted {
		if p.Episode == "" || len(p.Episodes) == 0 || p.Episodes[0].Zone != "room" {
			t.Errorf("%q has no episode", p.Subject)
			continue
		}
		root := mails.mails[i].Header.Get("References")
		if was, known := roots[p.Episode]; root == "" || known && was != root {
			t.Errorf("%q: the mail refers to %q, an earlier one of its episode to %q", p.Subject, root, was)
		}
		roots[p.Episode] = root
		for _, e := range p.Episodes {
			if e.Side == "" || e.Subject != "ROOM "+strings.ReplaceAll(e.Side, "-", " ") {
				t.Errorf("%q: %+v", p.Subject, e)
			}
			if open[e.ID] = !e.Over; e.Over {
				delete(open, e.ID)
			}
		}
	}
	if len(roots) != 1 || !strings.HasPrefix(posted[0].Episode, "room/too-cold/") {
		t.Errorf("the episodes are %q, want one of too cold", slices.Sorted(maps.Keys(roots)))
	}
	if distinct := slices.Compact(slices.Sorted(maps.Values(roots))); len(distinct) != len(roots) {
		t.Errorf("%d episodes have the roots %q", len(roots), distinct)
	}
	if len(receiver.stands) > 0 {
		t.Errorf("at the end %v stand", slices.Collect(maps.Keys(receiver.stands)))
	}
	t.Logf("%d messages, %d episodes, %d open", len(posted), len(roots), len(open))
	for _, p := range posted {
		t.Log(p.Subject, strings.TrimPrefix(p.Episode, "room/"))
	}
}
