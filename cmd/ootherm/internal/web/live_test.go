package web

import (
	"strings"
	"testing"
)

// Pages that show how things stand keep themselves up to date; without JavaScript the first
// page and an alarm's page are loaded again each minute, and no page on which one types is. A
// page of a form looks only whether the station answers.
func TestPagesThatKeepThemselvesUpToDate(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	o := options(season())
	o.Writer, o.Book = d, d
	h := handler(t, o)
	for target, want := range map[string]struct{ live, reloads bool }{
		"/": {true, true}, "/alarm?key=temperature-high.warning/room": {true, true}, "/z/room": {true, false}, "/b/B1": {true, false}, "/c/S1": {true, false},
		"/review": {true, false}, "/labels": {false, false}, "/more": {false, false},
	} {
		w := get(h, target)
		page := w.Body.String()
		if live := strings.Contains(page, " data-live>") && strings.Contains(page, "/live.js"); live != want.live {
			t.Errorf("%s keeps itself up to date: %t, want %t", target, live, want.live)
		}
		if reloads := strings.Contains(page, `<noscript><meta http-equiv="refresh" content="60"></noscript>`); reloads != want.reloads || w.Header().Get("Refresh") != "" {
			t.Errorf("%s is loaded again without JavaScript: %t, want %t", target, reloads, want.reloads)
		}
	}
	for _, target := range []string{"/note", "/note/found", "/noted", "/search?q=s", "/hatchlings"} {
		if page := get(h, target).Body.String(); !strings.Contains(page, ` data-live="watch">`) || !strings.Contains(page, "/live.js") {
			t.Errorf("%s does not look whether the station answers", target)
		}
	}
}

// What an installed page is made of comes before the passphrase and tells nothing of the
// station; the events come after it.
func TestAnInstalledPageStartsBeforeThePassphrase(t *testing.T) {
	_, h, _ := closed(t, "four warm eggs")
	for _, target := range []string{"/manifest.webmanifest", "/worker.js", "/icon-192.png", "/locale.js", "/live.js", "/waiting.js"} {
		if w := ask(h, target); w.Code != 200 || strings.Contains(w.Body.String(), "egg room") {
			t.Errorf("%s: status %d", target, w.Code)
		}
	}
	if w := ask(h, "/events"); w.Code != 303 {
		t.Errorf("/events: status %d", w.Code)
	}
	for _, target := range []string{"/", "/login", "/worker.js"} {
		policy := ask(h, target).Header().Get("Content-Security-Policy")
		if !strings.Contains(policy, "default-src 'self'; script-src 'self'") || strings.Contains(policy, "unsafe") {
			t.Errorf("%s: the policy is %q", target, policy)
		}
	}
}
