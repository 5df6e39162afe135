package webhook_test

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/webhook"
)

var at = time.Date(2026, 4, 2, 18, 7, 0, 0, time.UTC)

var hot = alert.Message{ID: "temperature-high.critical/räum/7", Alarm: "temperature-high.critical/räum", At: at,
	Priority: alert.Critical, Subject: "▲ ROOM \"too\" warm", Body: "Since 14:07.\nPeak 78.6.\n"}

// posted is a request as it came.
type posted struct {
	method, uri, body string
	header            http.Header
}

// receiver answers with a status, and keeps what came.
func receiver(t *testing.T, status int) (string, *[]posted) {
	t.Helper()
	var got []posted
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		got = append(got, posted{r.Method, r.RequestURI, string(b), r.Header.Clone()})
		w.Header().Set("Location", "/elsewhere")
		w.WriteHeader(status)
		if status != http.StatusNoContent {
			_, _ = io.WriteString(w, "so it is") // the client may have gone
		}
	}))
	t.Cleanup(srv.Close)
	return srv.URL, &got
}

func sender(t *testing.T, c webhook.Config) *webhook.Sender {
	t.Helper()
	c.Now = func() time.Time { return at.Add(time.Minute) }
	c.Station, c.Client = "egg room", http.DefaultClient
	s, err := webhook.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestWhatIsPosted(t *testing.T) {
	url, got := receiver(t, 204)
	if err := sender(t, webhook.Config{URL: url + "/hook?a=b", Headers: map[string]string{"Authorization": "Bearer x"}}).Send(t.Context(), hot); err != nil {
		t.Fatal(err)
	}
	p := (*got)[0]
	if p.method != "POST" || p.uri != "/hook?a=b" || p.header.Get("Authorization") != "Bearer x" ||
		p.header.Get("Content-Type") != "application/json" || p.header.Get(webhook.SignatureHeader) != "" {
		t.Errorf("%+v", p)
	}
	if id := p.header.Get(webhook.IdentityHeader); id != "temperature-high.critical/r_um/7" {
		t.Errorf("identity %q", id)
	}
	var body map[string]any
	if err := json.Unmarshal([]byte(p.body), &body); err != nil {
		t.Fatal(err)
	}
	for k, want := range map[string]any{"id": hot.ID, "alarm": hot.Alarm, "at": "2026-04-02T18:07:00Z", "priority": "critical",
		"over": false, "subject": hot.Subject, "body": hot.Body, "station": "egg room", "episode": ""} {
		if body[k] != want {
			t.Errorf("%s is %v, want %v", k, body[k], want)
		}
	}
	if all, ok := body["episodes"].([]any); !ok || len(all) > 0 || len(body) != 11 {
		t.Errorf("the body has more than that, or an episode: %v", body)
	}
}

func TestBodyTemplateAndSignature(t *testing.T) {
	url, got := receiver(t, 200)
	file := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(file, []byte("correct horse\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := sender(t, webhook.Config{URL: url, SecretFile: file, Headers: map[string]string{"Content-Type": "application/x"},
		Body: `{"text": {{json .Subject}}, "from": {{json .Station}}{{if .Over}}, "over": true{{end}}}`})
	if err := s.Send(t.Context(), hot); err != nil {
		t.Fatal(err)
	}
	p := (*got)[0]
	if p.body != `{"text": "▲ ROOM \"too\" warm", "from": "egg room"}` || p.header.Get("Content-Type") != "application/x" {
		t.Errorf("%+v", p)
	}
	if p.header.Get(webhook.TimeHeader) != "1775153280" {
		t.Errorf("time %q", p.header.Get(webhook.TimeHeader))
	}
	mac := hmac.New(sha256.New, []byte("correct horse"))
	mac.Write([]byte("1775153280." + p.body))
	if want := hex.EncodeToString(mac.Sum(nil)); p.header.Get(webhook.SignatureHeader) != want {
		t.Errorf("signature %q, want %q", p.header.Get(webhook.SignatureHeader), want)
	}
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	if err := s.Send(t.Context(), hot); !errors.Is(err, os.ErrNotExist) || errors.Is(err, alert.ErrPermanent) || len(*got) != 1 {
		t.Errorf("without its secret: %v, %d posts", err, len(*got))
	}
}

func TestAnswers(t *testing.T) {
	for status, want := range map[int]string{200: "", 202: "", 301: "temporary", 400: "permanent", 401: "temporary", 403: "temporary",
		404: "permanent", 408: "temporary", 410: "permanent", 413: "permanent", 422: "permanent", 425: "temporary", 429: "temporary",
		500: "temporary", 502: "temporary", 503: "temporary"} {
		url, got := receiver(t, status)
		err := sender(t, webhook.Config{URL: url + "/secret-path"}).Send(t.Context(), hot)
		is := ""
		if err != nil {
			is = "temporary"
			if errors.Is(err, alert.ErrPermanent) {
				is = "permanent"
			}
			if strings.Contains(err.Error(), "secret-path") || !strings.Contains(err.Error(), "so it is") {
				t.Errorf("%d: %v", status, err)
			}
		}
		if is != want || len(*got) != 1 {
			t.Errorf("%d is %q after %d posts, want %q", status, is, len(*got), want)
		}
	}
}

func TestNobodyThere(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	err = sender(t, webhook.Config{URL: "http://" + l.Addr().String() + "/secret-path"}).Send(t.Context(), hot)
	if err == nil || errors.Is(err, alert.ErrPermanent) || strings.Contains(err.Error(), "secret-path") {
		t.Errorf("%v", err)
	}
}

func TestASilentReceiverIsLeft(t *testing.T) {
	asked, release := make(chan struct{}), make(chan struct{})
	srv := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {
		close(asked)
		<-release
	}))
	defer srv.Close()
	defer close(release)
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-asked; cancel() }()
	if err := sender(t, webhook.Config{URL: srv.URL}).Send(ctx, hot); !errors.Is(err, context.Canceled) || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("%v", err)
	}
}

func TestConfiguration(t *testing.T) {
	now := func() time.Time { return at }
	for _, c := range []webhook.Config{{URL: "", Now: now, Client: http.DefaultClient}, {URL: "ftp://h/x", Now: now, Client: http.DefaultClient}, {URL: "http://", Now: now, Client: http.DefaultClient}, {URL: "http://h/", Client: http.DefaultClient}, {URL: "http://h/", Now: now},
		{URL: "http://h/", Now: now, Client: http.DefaultClient, Body: "{{"}, {URL: "http://h/", Now: now, Client: http.DefaultClient, Body: "{{.Nothing}}"}, {URL: "http://h/", Now: now, Client: http.DefaultClient, Body: "{{frob}}"}} {
		if _, err := webhook.New(c); err == nil {
			t.Errorf("%+v: %v", c.URL+c.Body, err)
		}
	}
}

// Retry-After is heeded in both of its forms, and what is none does no harm.
func TestRetryAfter(t *testing.T) {
	for after, want := range map[string]time.Duration{
		"": 0, "120": 2 * time.Minute, "0": 0, "86400": alert.MaxRetryWait, "-5": 0, "soon": 0, "99999999999999999999": 0,
		at.Add(6 * time.Minute).Format(http.TimeFormat): 5 * time.Minute, // the sender's clock is a minute past at
		at.Add(-time.Hour).Format(http.TimeFormat):      0,
	} {
		for _, status := range []int{http.StatusTooManyRequests, http.StatusServiceUnavailable} {
			srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if after != "" {
					w.Header().Set("Retry-After", after)
				}
				w.WriteHeader(status)
			}))
			err := sender(t, webhook.Config{URL: srv.URL}).Send(t.Context(), hot)
			srv.Close()
			if got := alert.Asked(err); err == nil || errors.Is(err, alert.ErrPermanent) || got != want {
				t.Errorf("%d, Retry-After %q: asked for %v (%v), want %v", status, after, got, err, want)
			}
		}
	}
}

func TestPayloadNamesTheEpisode(t *testing.T) {
	url, got := receiver(t, http.StatusNoContent)
	m := hot
	for _, zone := range []string{"räum", "shelf"} {
		m.Threads = append(m.Threads, alert.NewThread(alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Critical, Zone: zone}, zone, at))
	}
	if err := sender(t, webhook.Config{URL: url}).Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	if err := sender(t, webhook.Config{URL: url, Body: `{{.Episode}} {{len .Threads}}`}).Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	var p struct {
		Episode  string
		Episodes []struct{ ID, Zone, Side, Priority string }
	}
	const want = "räum/too-warm/20260402T180700Z"
	if err := json.Unmarshal([]byte((*got)[0].body), &p); err != nil || p.Episode != want || len(p.Episodes) != 2 || p.Episodes[1].Zone != "shelf" || p.Episodes[1].Side != "too-warm" {
		t.Errorf("%s: %v", (*got)[0].body, err)
	}
	if body := (*got)[1].body; body != want+" 2" {
		t.Errorf("a template's body %q", body)
	}
}
