package words

import (
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// networkFaults are the texts of the network's errors (Go's net package and Linux), and what
// they mean to a person.
var networkFaults = []struct{ has, means string }{
	{"connection refused", "the server refuses the connection"},
	{"no such host", "the server's name is not found; is the router up?"},
	{"server misbehaving", "the server's name is not found; is the router up?"},
	{"network is unreachable", "the network is not reachable; is the router up?"},
	{"no route to host", "the server is not reachable; is the router up?"},
	{"deadline exceeded", "the server does not answer in time"},
	{"i/o timeout", "the server does not answer in time"},
	{"connection reset", "the server broke the connection"},
}

// Undelivered says that a sender's alarm messages do not get out, since when and why. It is
// empty where they do.
func Undelivered(r Reader, d snapshot.Delivery, at time.Time) string {
	if d.AlarmsFailSince == nil {
		return ""
	}
	text := "Alarm messages by " + d.Sender + " do not get out since " + r.When(*d.AlarmsFailSince, at)
	if d.Err == nil || *d.Err == "" {
		return text + "."
	}
	why := *d.Err
	for _, x := range networkFaults {
		if strings.Contains(why, x.has) {
			why = x.means
			break
		}
	}
	if strings.HasSuffix(why, "?") {
		return text + ": " + why
	}
	return text + ": " + strings.TrimSuffix(why, ".") + "."
}
