package listener

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// slowCaller takes its answer and gives its body when it is told to.
type slowCaller struct {
	*httptest.ResponseRecorder
	wait chan struct{}
}

func (s slowCaller) Write(p []byte) (int, error) {
	<-s.wait
	return s.ResponseRecorder.Write(p)
}

func (s slowCaller) Read([]byte) (int, error) {
	<-s.wait
	return 0, io.EOF
}

func (s slowCaller) Close() error { return nil }

// As many answers are computed as there are turns. One that waits for its caller holds no
// turn, and whoever gets none in time is told when to come again.
func TestFewAnswersAreComputedAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		all := make(turns, 2)
		computing := make(chan struct{})
		h := limitComputed(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			switch r.URL.Path {
			case "/computes":
				<-computing
			case "/reads":
				_, _ = io.ReadAll(r.Body) // its end is no error
			}
			_, _ = io.WriteString(w, "done")
		}))
		ask := func(w http.ResponseWriter, path string, body io.Reader) {
			r := httptest.NewRequest(http.MethodPost, path, body)
			h.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), turnsKey{}, all)))
		}
		get := func(path string) *httptest.ResponseRecorder {
			w := httptest.NewRecorder()
			ask(w, path, http.NoBody)
			return w
		}
		wait := make(chan struct{})
		for range 3 {
			slow := slowCaller{httptest.NewRecorder(), wait}
			go ask(slow, "/", http.NoBody)
			go ask(httptest.NewRecorder(), "/reads", slow)
		}
		synctest.Wait()
		if w := get("/"); w.Body.String() != "done" {
			t.Errorf("beside slow callers: %d %s", w.Code, w.Body)
		}
		first, second := make(chan string), make(chan string)
		go func() { first <- get("/computes").Body.String() }()
		go func() { second <- get("/computes").Body.String() }()
		synctest.Wait()
		began := time.Now()
		if w := get("/"); w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" || !strings.Contains(w.Body.String(), "too many callers") || time.Since(began) != turnTime {
			t.Errorf("without a turn: %d after %s: %s", w.Code, time.Since(began), w.Body)
		}
		close(computing)
		if a, b := <-first, <-second; a != "done" || b != "done" {
			t.Errorf("they that compute answer %q and %q", a, b)
		}
		close(wait)
		synctest.Wait()
		if len(all) != 0 {
			t.Errorf("%d turns are still held", len(all))
		}
	})
}
