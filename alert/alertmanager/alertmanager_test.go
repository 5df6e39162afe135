package alertmanager_test

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
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
	s, err := alertmanager.New(alertmanager.Config{URL: url, Station: "shed", Link: "http://eggroom.local:8080", Now: time.Now, Client: http.DefaultClient})
	if err != nil {
		t.Fatal(err)
	}
	return s
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
		t.Errorf("no answer: %v", err)
	}
	<-done
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if err := s.Send(t.Context(), message(false)); err == nil || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("no receiver: %v", err)
	}
}

func TestConfiguration(t *testing.T) {
	for _, u := range []string{"", "x", "ftp://h", "http://", "http://u:secret@h"} {
		if _, err := alertmanager.New(alertmanager.Config{URL: u, Now: time.Now, Client: http.DefaultClient}); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%q: %v", u, err)
		}
	}
}
