package daemon

import (
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/config"
)

func TestReachableURL(t *testing.T) {
	const chosen = "http://eggroom.local:8080"
	for _, c := range []struct {
		station   config.Station
		addresses []string
		want      string
	}{
		{config.Station{Listen: "0.0.0.0:8080", URL: "http://0.0.0.0:8080"}, []string{"192.0.2.7", "198.51.100.9"}, "http://192.0.2.7:8080"},
		{config.Station{Listen: "[::]:8080"}, []string{"192.0.2.7"}, "http://192.0.2.7:8080"},
		{config.Station{Listen: ":8080"}, nil, "http://127.0.0.1:8080"},
		{config.Station{Listen: "192.0.2.7:8080", URL: "http://192.0.2.7:8080"}, []string{"198.51.100.9"}, "http://192.0.2.7:8080"},
		{config.Station{Listen: "0.0.0.0:8080", URL: chosen, Addressed: true}, []string{"192.0.2.7"}, chosen},
	} {
		got := c.station
		if setReachableURL(&got, c.addresses); got.URL != c.want {
			t.Errorf("%+v: %s, want %s", c.station, got.URL, c.want)
		}
	}
}
