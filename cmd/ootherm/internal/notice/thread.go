package notice

import (
	"cmp"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// threadOf is the thread of the episode that an event belongs to. The alarms of one side of a
// zone share the words of its band: "ROOM too cold" is also the stem of "getting too cold".
func threadOf(c *composer, e alert.Event) alert.Thread {
	t := alert.NewThread(e.Key, cmp.Or(e.Key.Zone, c.Alarms[e.Key].Zone), e.Began)
	kind := cmp.Or(t.Side.Kind(), e.Key.Kind)
	t.Subject = strings.ToUpper(c.place(e.Key)) + " " + words.Alarm(string(kind)).Wrong
	t.Over = e.To != alert.Active
	return t
}
