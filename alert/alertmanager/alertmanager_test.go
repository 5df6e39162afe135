package alertmanager_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertmanager"
)

// message is one of an alarm that began a while before now; the receiver takes no
// alert whose end is long past.
func message(over bool) alert.Message {
	m := alert.Message{ID: "temperature-high.critical/egg room/probe:p/7", Alarm: "temperature-high.critical/egg room/probe:p",
		At: time.Now().Add(-time.Minute).Truncate(time.Second), Priority: alert.Critical, Subject: "ROOM too warm", Body: "Since 14:07.\n"}
	if over {
		m.ID, m.At, m.Over, m.Subject = "temperature-high.critical/egg room/probe:p/8", m.At.Add(30*time.Second), true, "back in band"
	}
	return m
}

func sender(t *testing.T, url string) *alertmanager.Sender {
	t.Helper()
	s, err := alertmanager.New(alertmanager.Config{URL: url, Station: "shed", Link: "http://eggroom.local:8080", Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// receiver starts a real one (Debian: package prometheus-alertmanager) on
// loopback, and gives its address.
func receiver(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	conf := filepath.Join(dir, "conf.yml")
	if err := os.WriteFile(conf, []byte("route: {receiver: none}\nreceivers: [{name: none}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("prometheus-alertmanager", "--config.file="+conf, "--storage.path="+dir,
		"--web.listen-address="+address, "--cluster.listen-address=", "--log.level=debug")
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatalf("prometheus-alertmanager, of Debian's package of that name: %v", err)
	}
	said := bufio.NewScanner(log)
	var heard strings.Builder
	for running := false; !running; {
		if !said.Scan() {
			t.Fatalf("it ended: %v\n%s", cmd.Wait(), heard.String())
		}
		fmt.Fprintln(&heard, said.Text())
		running = strings.Contains(strings.ToLower(said.Text()), "listening")
	}
	drained := make(chan struct{})
	go func() {
		defer close(drained)
		for said.Scan() { // lest it block on a full pipe
		}
	}()
	t.Cleanup(func() {
		if err := cmd.Process.Kill(); err != nil {
			t.Error(err)
		}
		<-drained
		_ = cmd.Wait() // killed is how it ends
	})
	return "http://" + address
}

// shown is an alert as the receiver gives it back.
type shown struct {
	Labels      map[string]string `json:"labels"`
	Annotations map[string]string `json:"annotations"`
	StartsAt    time.Time         `json:"startsAt"`
	EndsAt      time.Time         `json:"endsAt"`
}

func active(t *testing.T, url string) (all []shown) {
	t.Helper()
	resp, err := http.Get(url + "/api/v2/alerts")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if err := json.NewDecoder(resp.Body).Decode(&all); err != nil {
		t.Fatal(err)
	}
	return all
}

func TestRaisedAndOver(t *testing.T) {
	url := receiver(t)
	s := sender(t, url)
	for range 2 { // a repeated delivery is the same alert
		if err := s.Send(t.Context(), message(false)); err != nil {
			t.Fatal(err)
		}
	}
	got := active(t, url)
	if len(got) != 1 {
		t.Fatalf("%d alerts: %+v", len(got), got)
	}
	want := map[string]string{"alertname": "temperature-high", "priority": "critical", "zone": "egg room", "probe": "p", "station": "shed"}
	if fmt.Sprint(got[0].Labels) != fmt.Sprint(want) {
		t.Errorf("labels %v, want %v", got[0].Labels, want)
	}
	if a := got[0].Annotations; a["summary"] != "ROOM too warm" || a["description"] != "Since 14:07.\n" || a["message"] != message(false).ID {
		t.Errorf("annotations %v", a)
	}
	if got[0].EndsAt.Sub(got[0].StartsAt) < 23*time.Hour {
		t.Errorf("it stands from %v to %v", got[0].StartsAt, got[0].EndsAt)
	}
	if err := s.Send(t.Context(), message(true)); err != nil {
		t.Fatal(err)
	}
	if got := active(t, url); len(got) != 0 {
		t.Errorf("it is over, and stands: %+v", got)
	}
	if err := s.Send(t.Context(), alert.Message{ID: "test/1", At: time.Now(), Priority: alert.Notice, Subject: "a test"}); err != nil {
		t.Fatal(err)
	}
	if got := active(t, url); len(got) != 1 || got[0].Labels["alertname"] != "message" {
		t.Errorf("a message of no alarm: %+v", got)
	}
}

func TestAnswers(t *testing.T) {
	for status, final := range map[int]bool{400: true, 404: false, 500: false, 503: false} {
		srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.Method != http.MethodPost || r.URL.Path != "/below/api/v2/alerts" {
				t.Errorf("%s %s", r.Method, r.URL.Path)
			}
			w.WriteHeader(status)
			_, _ = io.WriteString(w, "so it is") // the client may have gone
		}))
		err := sender(t, srv.URL+"/below/").Send(t.Context(), message(false))
		srv.Close()
		if err == nil || errors.Is(err, alert.ErrPermanent) != final || !strings.Contains(err.Error(), "so it is") {
			t.Errorf("%d: permanent %v: %v", status, errors.Is(err, alert.ErrPermanent), err)
		}
	}
}

// A login page that a redirection leads to answers well and has taken nothing.
func TestARedirectionIsNoDelivery(t *testing.T) {
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodGet {
			t.Error("it was followed")
			return
		}
		http.Redirect(w, r, "/login", http.StatusFound)
	}))
	defer srv.Close()
	if err := sender(t, srv.URL).Send(t.Context(), message(false)); err == nil || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("%v", err)
	}
}

// Before a fleet's receiver stands a proxy, which may say when to come again.
func TestAskedToWait(t *testing.T) {
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Retry-After", "90")
		w.WriteHeader(http.StatusTooManyRequests)
	}))
	defer srv.Close()
	if err := sender(t, srv.URL).Send(t.Context(), message(false)); alert.Asked(err) != 90*time.Second {
		t.Errorf("asked for %v: %v", alert.Asked(err), err)
	}
}

func TestAnAlarmThatIsNone(t *testing.T) {
	m := message(false)
	m.Alarm = "nonsense"
	if err := sender(t, "http://127.0.0.1:9").Send(t.Context(), m); !errors.Is(err, alert.ErrPermanent) {
		t.Errorf("%v", err)
	}
}

func TestNobodyThereAndNobodyAnswers(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	done := make(chan struct{})
	go func() {
		defer close(done)
		c, err := l.Accept()
		if err != nil {
			t.Error(err)
			return
		}
		if _, err := c.Read(make([]byte, 1)); err != nil { // the request is under way
			t.Error(err)
		}
		cancel()
		_, _ = io.Copy(io.Discard, c) // until the sender hangs up
		_ = c.Close()
	}()
	s := sender(t, "http://"+l.Addr().String())
	if err := s.Send(ctx, message(false)); !errors.Is(err, context.Canceled) || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("nobody answers: %v", err)
	}
	<-done
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if err := s.Send(t.Context(), message(false)); err == nil || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("nobody there: %v", err)
	}
}

func TestConfiguration(t *testing.T) {
	for _, u := range []string{"", "x", "ftp://h", "http://", "http://u:secret@h"} {
		if _, err := alertmanager.New(alertmanager.Config{URL: u, Now: time.Now}); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%q: %v", u, err)
		}
	}
}
