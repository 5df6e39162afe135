package alertmanager_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertmanager"
	"example.com/ootherm/alert/post"
)

// memory is a receiver that keeps its alerts in memory, as the real one does: those that have
// not ended, by alertname and priority.
type memory struct {
	now   *time.Time
	ends  map[string]time.Time
	login string
}

func (m *memory) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	user, password, _ := r.BasicAuth()
	m.login = user + ":" + password + ":" + r.Header.Get("X-Scope")
	var all []struct {
		Labels map[string]string
		EndsAt time.Time
	}
	if err := json.NewDecoder(r.Body).Decode(&all); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	for _, a := range all {
		m.ends[a.Labels["alertname"]+"."+a.Labels["priority"]] = a.EndsAt
	}
}

func (m *memory) shows(name string) bool { return m.ends[name].After(*m.now) }

type file string

func (f file) Load() ([]byte, error) {
	text, err := os.ReadFile(string(f))
	if os.IsNotExist(err) {
		return nil, nil
	}
	return text, err
}

func (f file) Save(text []byte) error { return os.WriteFile(string(f), text, 0o600) }

// An alert stands as long as its alarm does: over a restart of the receiver, over one of the
// station, and however long it was acknowledged. It ends with the alarm, and is not begun
// again after that.
func TestStandingOverRestarts(t *testing.T) {
	now := time.Date(2026, 4, 2, 18, 7, 0, 0, time.UTC)
	m := &memory{now: &now, ends: map[string]time.Time{}}
	server := httptest.NewServer(m)
	defer server.Close()
	password := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(password, []byte("correct horse\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	kept := file(filepath.Join(t.TempDir(), "alerts.json"))
	open := func() *alertmanager.Sender {
		s, err := alertmanager.New(alertmanager.Config{URL: server.URL, Station: "shed", Now: func() time.Time { return now }, Client: http.DefaultClient,
			Headers: map[string]string{"X-Scope": "eggs"}, Login: post.Login{User: "keeper", PasswordFile: password}, Store: kept})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	const key = "temperature-high.critical/egg room"
	hot := alert.Message{ID: key + "/7", Alarm: key, At: now, Priority: alert.Critical, Subject: "ROOM too warm"}
	s := open()
	if err := s.Send(t.Context(), hot); err != nil || !m.shows("temperature-high.critical") {
		t.Fatalf("%v, shown %v", err, m.ends)
	}
	if m.login != "keeper:correct horse:eggs" {
		t.Errorf("it came as %q", m.login)
	}
	stands := func(k string) bool { return k == key }
	for name, step := range map[string]func(){
		"the receiver was started again": func() { clear(m.ends) },
		"both were":                      func() { clear(m.ends); s = open() },
		"30 h after it was said":         func() { now = now.Add(30 * time.Hour) },
	} {
		step()
		if err := s.Refresh(t.Context(), stands); err != nil || !m.shows("temperature-high.critical") {
			t.Errorf("%s: %v, shown %v", name, err, m.ends)
		}
	}
	hot.ID, hot.Over, hot.At = key+"/8", true, now
	if err := s.Send(t.Context(), hot); err != nil || m.shows("temperature-high.critical") {
		t.Errorf("over: %v, shown %v", err, m.ends)
	}
	for _, s := range []*alertmanager.Sender{s, open()} {
		clear(m.ends)
		if err := s.Refresh(t.Context(), stands); err != nil || len(m.ends) > 0 {
			t.Errorf("after its end: %v, shown %v", err, m.ends)
		}
	}
}

// What is told once is not repeated: its alarm does not stand.
func TestWhatIsOverIsNotRepeated(t *testing.T) {
	now := time.Date(2026, 4, 2, 18, 7, 0, 0, time.UTC)
	m := &memory{now: &now, ends: map[string]time.Time{}}
	server := httptest.NewServer(m)
	defer server.Close()
	s, err := alertmanager.New(alertmanager.Config{URL: server.URL, Station: "shed", Now: func() time.Time { return now }, Client: http.DefaultClient})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Send(t.Context(), alert.Message{ID: "station-restarted.notice/1", Alarm: "station-restarted.notice", At: now, Priority: alert.Notice}); err != nil {
		t.Fatal(err)
	}
	clear(m.ends)
	if err := s.Refresh(t.Context(), func(string) bool { return false }); err != nil || len(m.ends) > 0 {
		t.Errorf("%v, shown %v", err, m.ends)
	}
}

// An answer that repeats the password shows it to nobody.
func TestThePasswordIsInNoError(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, p, _ := r.BasicAuth()
		http.Error(w, "not with "+p, http.StatusUnauthorized)
	}))
	defer server.Close()
	password := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(password, []byte("correct horse\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{password, password + "x"} {
		s, err := alertmanager.New(alertmanager.Config{URL: server.URL, Now: time.Now, Client: http.DefaultClient, Login: post.Login{User: "keeper", PasswordFile: p}})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Send(t.Context(), message(false)); err == nil || strings.Contains(err.Error(), "correct horse") {
			t.Errorf("%v", err)
		}
	}
}
