package problem

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

func answer(t *testing.T, path string, h http.HandlerFunc) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	ForPrograms(h).ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

func TestErrorsForProgramsAreProblems(t *testing.T) {
	for name, c := range map[string]struct {
		answer func(w http.ResponseWriter)
		want   Details
	}{
		"text": {func(w http.ResponseWriter) { http.Error(w, "no probe is called \"x\"", 404) },
			Details{"about:blank", "Not Found", 404, `no probe is called "x"`, nil}},
		"a page": {func(w http.ResponseWriter) {
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			w.WriteHeader(404)
			_, _ = w.Write([]byte("<html>"))
		}, Details{"about:blank", "Not Found", 404, "This address shows nothing to a program. /api/v1/openapi.json lists those that do.", nil}},
		"a long text": {func(w http.ResponseWriter) { http.Error(w, strings.Repeat("x", maxDetailBytes+10), 400) },
			Details{"about:blank", "Bad Request", 400, strings.Repeat("x", maxDetailBytes), nil}},
	} {
		w := answer(t, "/api/v1/now", func(w http.ResponseWriter, _ *http.Request) { c.answer(w) })
		var got Details
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || got != c.want || w.Code != c.want.Status || w.Header().Get("Content-Type") != ContentType {
			t.Errorf("%s: %d %s %.200s (%v)", name, w.Code, w.Header().Get("Content-Type"), w.Body, err)
		}
	}
}

func TestOtherAnswersPass(t *testing.T) {
	for name, c := range map[string]struct {
		path   string
		status int
		kind   string
	}{
		"a page's error":    {"/z/x", 404, "text/plain; charset=utf-8"},
		"a program's state": {"/api/v1/now", 200, "application/json"},
		"another problem":   {"/api/v1/book", 422, ContentType},
		"text that is well": {"/api/v1/x", 200, "text/plain"},
	} {
		w := answer(t, c.path, func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", c.kind)
			w.WriteHeader(c.status)
			_, _ = w.Write([]byte("as it was"))
		})
		if w.Code != c.status || w.Header().Get("Content-Type") != c.kind || w.Body.String() != "as it was" {
			t.Errorf("%s: %d %s %s", name, w.Code, w.Header().Get("Content-Type"), w.Body)
		}
	}
}

func TestFaultsStandBesideTheDetail(t *testing.T) {
	w := httptest.NewRecorder()
	Write(w, 422, "two faults\n", []string{"one", "two"})
	if got := strings.TrimSpace(w.Body.String()); got != `{"type":"about:blank","title":"Unprocessable Entity","status":422,"detail":"two faults","faults":["one","two"]}` {
		t.Error(got)
	}
}
