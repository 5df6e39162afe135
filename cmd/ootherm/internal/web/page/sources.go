package page

import (
	"context"
	"net/url"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Shown gives the windows that were shown of a clutch, a day at a time, in the
// order of box and day, and how right they were for the eggs that have hatched. It
// is safe from any goroutine.
type Shown interface {
	Shown(clutch string) ([]snapshot.Shown, error)
	Score() (snapshot.Score, error)
}

// Incidents look back at what happened. They are safe from any goroutine.
type Incidents interface {
	// Rehearsal is what the early warning would have made of failures in a zone. Without wait
	// it gives ready false while that is being computed.
	Rehearsal(ctx context.Context, zone string, wait bool) (x snapshot.Rehearsal, ready bool, err error)
	Incident(ctx context.Context, from, to time.Time, zone string) (snapshot.Incident, error)
	Alarms(from, to time.Time) ([]snapshot.PastAlarm, error)
}

// Revisions number what the feed says, for RFC 5545's SEQUENCE (3.8.7.4): the
// number rises whenever the content is another, whatever the clock does. One
// number serves all events of a feed.
type Revisions interface {
	Number(content string, at time.Time) (int, error)
}

// Access tells who may come in.
type Access interface {
	// Right reports whether a text is the station's passphrase.
	Right(text string) (bool, error)
	// ValidToken reports whether a text is a token with which another program may read.
	ValidToken(text string) (bool, error)
	// Version returns a text that changes with each new passphrase.
	Version() (string, error)
}

// What can be done to an alarm.
const (
	Acknowledge  = "acknowledge"    // a person has seen it
	Shelve       = "shelve"         // quiet for a while, ends by itself
	Unshelve     = "unshelve"       // end the quiet now
	OutOfService = "out-of-service" // switched off for work
	InService    = "in-service"     // turned on again
)

// longest is how long an alarm may be quiet. ISA-18.2 asks that it is bounded;
// the day is our choice.
const longest = 24 * time.Hour

// Action is one thing a person does to one alarm, or to every alarm of a zone.
type Action struct {
	Do    string        `json:"do"`
	Alarm string        `json:"alarm"` // its key; empty: every alarm of the zone
	Zone  string        `json:"zone"`  // empty with an alarm's key
	Who   string        `json:"who"`   // as the person said, for the record
	For   time.Duration `json:"-"`     // how long quiet; Shelve alone
}

// The addresses of the things that have a page of their own.
func BoxHref(name string) string          { return "/b/" + url.PathEscape(name) }
func ClutchHref(name string) string       { return "/c/" + url.PathEscape(name) }
func DamHref(name string) string          { return "/d/" + url.PathEscape(name) }
func EggHref(name string) string          { return "/e/" + url.PathEscape(name) }
func ProbeHref(name string) string        { return "/p/" + url.PathEscape(name) }
func SireHref(name string) string         { return "/s/" + url.PathEscape(name) }
func PairingHref(sire, dam string) string { return SireHref(sire) + "/" + url.PathEscape(dam) }

// Waiting are the eggs of a clutch that may still hatch.
func Waiting(c snapshot.Clutch) (eggs []string) {
	for _, e := range c.Eggs {
		if e.Fate == "waiting" || e.Fate == "pipped" {
			eggs = append(eggs, e.Egg)
		}
	}
	return eggs
}

// ZoneHref is the address of a zone's page.
func ZoneHref(name string) string { return "/z/" + url.PathEscape(name) }
