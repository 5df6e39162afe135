package daemon

import (
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// A port that is taken is refused before anything is made, with a command that can be typed.
func TestDemoOnATakenPort(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	at := taken.Addr().String()
	err = Demo(t.Context(), at, "", Build{}, slog.New(slog.DiscardHandler), func(string) { t.Error("it listens") })
	if err == nil || !usererr.IsUsage(err) {
		t.Fatalf("%v", err)
	}
	before, other, ok := strings.Cut(err.Error(), "; type: ootherm demo --listen ")
	if !ok || before != "port "+strconv.Itoa(taken.Addr().(*net.TCPAddr).Port)+" is in use" {
		t.Fatalf("%v", err)
	}
	l, err := listenForDemo(t.Context(), strings.TrimSpace(other))
	if err != nil {
		t.Fatalf("the port that is offered: %v", err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	_, port, err := net.SplitHostPort(at)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := listenForDemo(t.Context(), "0.0.0.0:"+port); err == nil || !strings.Contains(err.Error(), "type: ootherm demo --listen 0.0.0.0:") {
		t.Errorf("all addresses of the machine: %v", err)
	}
	if _, err := listenForDemo(t.Context(), "nowhere"); err == nil || !usererr.IsUsage(err) {
		t.Errorf("no address: %v", err)
	}
}

// The page answers from the first moment, with how far the season is, and then is the
// station's.
func TestDemoPageAnswersAtOnce(t *testing.T) {
	p := &demoPage{}
	get := func() *httptest.ResponseRecorder {
		w := httptest.NewRecorder()
		p.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/", nil))
		return w
	}
	p.setShare(0.426)
	if w := get(); w.Code != http.StatusOK || w.Header().Get("Refresh") != "1" || !strings.Contains(w.Body.String(), "Making the season, 43 %") {
		t.Errorf("%d: %s", w.Code, w.Body)
	}
	for _, path := range []string{"/healthz", "/metrics", "/api/v1/now"} {
		w := httptest.NewRecorder()
		p.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" || strings.Contains(w.Body.String(), "<") {
			t.Errorf("%s: %d: %s", path, w.Code, w.Body)
		}
	}
	ready := false
	p.show(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusTeapot) }), func() bool { return ready })
	if w := get(); w.Code != http.StatusOK {
		t.Errorf("before the station is ready: %d", w.Code)
	}
	ready = true
	if w := get(); w.Code != http.StatusTeapot {
		t.Errorf("of the station: %d", w.Code)
	}
}
