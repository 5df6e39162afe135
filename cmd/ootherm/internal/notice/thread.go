package notice

import (
	"cmp"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// threadOf is the thread of the episode that an event belongs to. The alarms of one side of a
// zone share the words of its band: "ROOM too cold" is also the stem of "getting too cold".
func threadOf(c *composer, e episode.Told) alert.Thread {
	t := alert.NewThread(e.Key, cmp.Or(e.Key.Zone, c.Alarms[e.Key].Zone), e.Began)
	if e.Thread.ID != "" {
		t.ID, t.Began = e.Thread.ID, e.Thread.Began
	}
	kind := cmp.Or(t.Side.Kind(), e.Key.Kind)
	t.Subject = strings.ToUpper(c.place(e.Key)) + " " + words.Alarm(string(kind)).Wrong
	t.Priority = priorityOf(e)
	t.SafeAt = e.SafeAt
	t.Over = e.To != alert.Active && e.Stage != episode.Holds
	return t
}
