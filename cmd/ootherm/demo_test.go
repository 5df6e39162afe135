package main

import "testing"

// A page is told as each browser reaches it: one on this machine, and one elsewhere.
func TestWhereTheDemoIs(t *testing.T) {
	m := thisMachine{"ann", "eggpi", []string{"192.0.2.7"}}
	for address, want := range map[string]string{"[::]:8080": "127.0.0.1:8080", "0.0.0.0:8080": "127.0.0.1:8080", "127.0.0.1:8090": "127.0.0.1:8090"} {
		if got := fromHere(address); got != want {
			t.Errorf("%s: %q, want %q", address, got, want)
		}
	}
	for address, want := range map[string]string{
		"127.0.0.1:8090":    "From another machine: ssh -L 8090:127.0.0.1:8090 ann@eggpi, and there http://127.0.0.1:8090",
		"0.0.0.0:8080":      "Other machines can look, and write nothing: http://192.0.2.7:8080",
		"[::]:8080":         "Other machines can look, and write nothing: http://192.0.2.7:8080",
		"198.51.100.9:8080": "Other machines can look, and write nothing: http://198.51.100.9:8080",
	} {
		if got := fromElsewhere(address, m); got != want {
			t.Errorf("%s: %q, want %q", address, got, want)
		}
	}
}
