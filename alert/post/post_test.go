package post_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/post"
)

var now = time.Date(2026, 6, 1, 8, 0, 0, 0, time.UTC)

// receiver posts to a path of a server; 400 and 410 are final.
func receiver(t *testing.T, server *httptest.Server, path string, headers map[string]string) *post.Receiver {
	t.Helper()
	u, err := url.Parse(server.URL + path)
	if err != nil {
		t.Fatal(err)
	}
	final := func(status int) bool { return status == http.StatusBadRequest || status == http.StatusGone }
	return post.To(u.String(), u, headers, final, func() time.Time { return now }, http.DefaultClient)
}

// serve answers each request by a handler until the test ends.
func serve(t *testing.T, h http.HandlerFunc) *httptest.Server {
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return s
}

func TestStatusDecidesWhetherToTryAgain(t *testing.T) {
	for _, c := range []struct {
		status           int
		after            string // Retry-After
		taken, permanent bool
		wait             time.Duration
	}{
		{status: 200, taken: true},
		{status: 204, taken: true},
		{status: 301},
		{status: 400, permanent: true},
		{status: 400, after: "60", permanent: true},
		{status: 404},
		{status: 410, permanent: true},
		{status: 429, after: "90", wait: 90 * time.Second},
		{status: 503, after: now.Add(2 * time.Minute).Format(http.TimeFormat), wait: 2 * time.Minute},
		{status: 503, after: now.Add(-time.Minute).Format(http.TimeFormat)},
		{status: 503, after: "86400", wait: alert.MaxRetryWait},
		{status: 503, after: "soon"},
		{status: 503, after: "-5"},
	} {
		s := serve(t, func(w http.ResponseWriter, _ *http.Request) {
			if c.after != "" {
				w.Header().Set("Retry-After", c.after)
			}
			w.WriteHeader(c.status)
		})
		err := receiver(t, s, "/", nil).Post(t.Context(), nil, []byte("{}"))
		if taken := err == nil; taken != c.taken {
			t.Errorf("%d: error %v, want taken %v", c.status, err, c.taken)
		}
		if got := errors.Is(err, alert.ErrPermanent); got != c.permanent {
			t.Errorf("%d: permanent %v, want %v", c.status, got, c.permanent)
		}
		if got := alert.Asked(err); got != c.wait {
			t.Errorf("%d, Retry-After %q: asked to wait %v, want %v", c.status, c.after, got, c.wait)
		}
	}
}

// An error names the host and the answer, never the path, the query or a header's value.
func TestErrorsHideSecrets(t *testing.T) {
	headers := map[string]string{"Authorization": "Bearer he4der-token"}
	repeats := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusNotFound)
		fmt.Fprintf(w, "no %s for %s", r.URL, r.Header.Get("Authorization"))
	})
	hangsUp := serve(t, func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) })
	for _, s := range []*httptest.Server{repeats, hangsUp} {
		err := receiver(t, s, "/hooks/p4th-token?key=qu3ry-key", headers).
			Post(t.Context(), http.Header{"Authorization": {"Bearer he4der-token"}}, nil)
		if err == nil {
			t.Fatal("it was taken")
		}
		for _, secret := range []string{"p4th-token", "qu3ry-key", "he4der-token"} {
			if strings.Contains(err.Error(), secret) {
				t.Errorf("%v shows %s", err, secret)
			}
		}
		if !strings.Contains(err.Error(), s.URL) {
			t.Errorf("%v does not name %s", err, s.URL)
		}
	}
}

// A redirection is followed by no request: its target could read the message.
func TestRedirectionIsNotFollowed(t *testing.T) {
	for _, status := range []int{301, 302, 303, 307, 308} {
		target := serve(t, func(http.ResponseWriter, *http.Request) { t.Errorf("%d was followed", status) })
		s := serve(t, func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, target.URL, status) })
		err := receiver(t, s, "/", nil).Post(t.Context(), nil, []byte("{}"))
		if err == nil || errors.Is(err, alert.ErrPermanent) {
			t.Errorf("%d: error %v, want one that a later try may cure", status, err)
		}
	}
}

// An answer without end costs no memory: an error quotes its first 200 bytes.
func TestLongAnswerIsCut(t *testing.T) {
	s := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusInternalServerError)
		for r.Context().Err() == nil {
			if _, err := w.Write([]byte(strings.Repeat("x", 4096))); err != nil {
				return
			}
		}
	})
	err := receiver(t, s, "/", nil).Post(t.Context(), nil, nil)
	if err == nil {
		t.Fatal("it was taken")
	}
	if n := strings.Count(err.Error(), "x"); n != 200 {
		t.Errorf("%d bytes of the answer are in the error, want 200", n)
	}
}

func TestContextEndsThePost(t *testing.T) {
	s := serve(t, func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() })
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	err := receiver(t, s, "/", nil).Post(ctx, nil, nil)
	if !errors.Is(err, context.Canceled) || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("error %v, want the context's", err)
	}
}

func TestContentTypeIsJSONUnlessGiven(t *testing.T) {
	for _, c := range []struct {
		header http.Header
		want   string
	}{{nil, "application/json"}, {http.Header{"Content-Type": {"text/plain"}}, "text/plain"}} {
		s := serve(t, func(_ http.ResponseWriter, r *http.Request) {
			if got := r.Header.Get("Content-Type"); got != c.want || r.Method != http.MethodPost {
				t.Errorf("%s of %q, want POST of %q", r.Method, got, c.want)
			}
		})
		if err := receiver(t, s, "/", nil).Post(t.Context(), c.header, []byte("x")); err != nil {
			t.Error(err)
		}
	}
}
