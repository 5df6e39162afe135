package page

import (
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// ParseAction checks what was sent and reads the length of a quiet.
func ParseAction(a Action, quiet string) (Action, error) {
	switch a.Do {
	case Acknowledge, Unshelve, OutOfService, InService:
	case Shelve:
		d, err := time.ParseDuration(quiet)
		if err != nil || d <= 0 || d > longest {
			return Action{}, usererr.New(fmt.Sprintf("quiet for %q is not possible; say how long, from 1m to 24h", quiet))
		}
		a.For = d
	default:
		return Action{}, usererr.New(fmt.Sprintf("%q is nothing that can be done to an alarm; use %s, %s, %s, %s or %s",
			a.Do, Acknowledge, Shelve, Unshelve, OutOfService, InService))
	}
	if (a.Alarm == "") == (a.Zone == "") {
		return Action{}, usererr.New("which alarm? name one by its key, or name a zone for all of its alarms")
	}
	return a, nil
}
