package main

import (
	"net/http"
	"strings"
	"testing"
)

// Another program reads a running station with a token, from when it is made until it is
// revoked. No restart is needed.
func TestReadingToken(t *testing.T) {
	config, data, listen := small(t)
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	if got := do(t, "four warm eggs here\n", "passphrase", "--config", r.config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	r.start()
	status := func(login func(*http.Request)) int {
		t.Helper()
		q, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+r.listen+"/api/v1/book", nil)
		if err != nil {
			t.Fatal(err)
		}
		login(q)
		resp, err := http.DefaultClient.Do(q)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp.StatusCode
	}
	made := do(t, "", "token", "make", "desk", "--config", r.config)
	token := strings.TrimSpace(made.out)
	if made.code != 0 || len(token) < 52 || strings.ContainsAny(token, " \n") {
		t.Fatalf("%d: %q, %s", made.code, made.out, made.errout)
	}
	bearer := func(q *http.Request) { q.Header.Set("Authorization", "Bearer "+token) }
	basic := func(q *http.Request) { q.SetBasicAuth("eggs", token) }
	if plain, b, p := status(func(*http.Request) {}), status(bearer), status(basic); plain != 401 || b != 200 || p != 200 {
		t.Errorf("without, with Bearer, with Basic: %d, %d, %d; want 401, 200, 200", plain, b, p)
	}
	if got := do(t, "", "token", "list", "--config", r.config); got.code != 0 || !strings.Contains(got.out, "desk") || strings.Contains(got.out, token) {
		t.Errorf("%d: %s", got.code, got.out)
	}
	if got := do(t, "", "token", "revoke", "shelf", "--config", r.config); got.code != 2 || !strings.Contains(got.errout, "no token is named") {
		t.Errorf("%d: %s", got.code, got.errout)
	}
	if got := do(t, "", "token", "revoke", "desk", "--config", r.config); got.code != 0 {
		t.Errorf("%d: %s", got.code, got.errout)
	}
	if b := status(bearer); b != 401 {
		t.Errorf("the revoked token is answered with %d", b)
	}
}
