package daemon

import (
	"slices"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/brokerstate"
	"example.com/ootherm/cmd/ootherm/internal/config"
)

// A station alone keeps its states and what announces them. What every station without a topic
// kept before is taken away too.
func TestOwnTopics(t *testing.T) {
	for _, c := range []struct {
		topic  string
		broker config.Broker
		want   []string
	}{
		{"eggs", config.Broker{Topic: "eggs"}, []string{"eggs/state/#"}},
		{"ootherm/shed", config.Broker{}, []string{"ootherm/shed/state/#", "ootherm/state/#", "ootherm/status"}},
		{"eggs", config.Broker{Topic: "eggs", Discovery: "hub"}, []string{"eggs/state/#", brokerstate.Discovery{Prefix: "hub", Topic: "eggs"}.Filter()}},
	} {
		if got := new(daemon).publication(c.topic, config.Sender{Broker: c.broker}).Own; !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.topic, got, c.want)
		}
	}
}
