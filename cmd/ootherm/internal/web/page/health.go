package page

import (
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Ill is what is wrong with the station itself.
func (s *Site) Ill() []string {
	n := s.Source.Now()
	if n == nil {
		return []string{"the station has only just started and has polled nothing yet"}
	}
	var bad []string
	if s.Stalled(n) {
		bad = append(bad, "the station stopped reporting "+words.Ago(s.Lag(n)))
	}
	if !n.Health.Polled {
		bad = append(bad, "a bus was not polled within three polls; see that its probes are plugged in")
	}
	for _, bus := range n.Health.Silent {
		bad = append(bad, "nothing on "+bus+" answered in the last three polls; see that it is plugged in")
	}
	if n.Health.FlushFailing {
		bad = append(bad, "the last readings could not be saved ("+s.Kept(n)+"); look at the card and the free space")
	}
	return bad
}

func (s *Site) Kept(n *snapshot.Snapshot) string {
	if n.Health.Flushed == nil {
		return "none saved since the start"
	}
	return "saved " + words.Ago(s.Clock().Sub(*n.Health.Flushed))
}
