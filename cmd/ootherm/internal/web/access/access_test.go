package access

import "testing"

// After the passphrase one is led nowhere else than into this station.
func TestLoginLeadsNowhereElse(t *testing.T) {
	for to, want := range map[string]string{"/b/B1?x=1": "/b/B1?x=1", "": "/", "//evil.example": "/", `/\evil.example`: "/", "https://evil.example": "/", "/a\r\nb": "/", "/\t/evil.example": "/", "/\x7f/x": "/", "/\u0085/x": "/"} {
		if got := inside(to); got != want {
			t.Errorf("%q leads to %q, want %q", to, got, want)
		}
	}
}
