// Package check shows what a configuration does before the station runs: who gets which
// alarm and when, what no probe watches, and what to mend. It writes nothing. It must not
// know how an alarm is computed.
package check

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/bookcopy"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Configuration writes what a configuration does, and what to repair or to consider. The
// error holds all faults that keep the station from starting.
func Configuration(w io.Writer, path string) error {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	p, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	if _, err := probeconfig.Buses(c.Probes, time.Now, dialer.New()); err != nil {
		return err
	}
	if _, err := senders.Routes(c, p, time.Now); err != nil {
		return err
	}
	if err := daemon.RequirePassphrase(path, c); err != nil {
		return err
	}
	if err := p.RequireProbes(path); err != nil {
		return err
	}
	say := func(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }
	senders := messageSenders(c)
	gaps := append(policyGaps(senders), unreadableFiles(senders, c.Station.Data)...)
	if len(gaps) == 0 {
		say("%s is in order.", path)
	} else {
		say("%s can be read, but see what to repair in it.", path)
	}
	for _, x := range gaps {
		say("Repair: %s", x)
	}
	say("%s, %s, %s; a poll every %s; the page at %s.", words.Count(len(p.Zones), "zone", "zones"),
		words.Count(len(p.Probes), "probe", "probes"), words.Count(len(p.Senders), "sender", "senders"), words.Span(p.Every), c.Station.Listen)
	for _, z := range p.Zones {
		if z.Wanted == nil && z.Safe == nil {
			say("Consider: %s has no wanted band, so it warns of nothing; its safe band is that of the eggs in it.", z.Name)
		}
	}
	if len(p.Zones) == 0 {
		say("Consider: there is no zone, so readings are kept, and nobody is warned of anything.")
	}
	for _, x := range append(silenceQuestions(c, words.Reader{Units: p.Units}), unknownFiles(senders, c.Station.Data)...) {
		say("Consider: %s", x)
	}
	describePolicy(say, senders)
	if len(senders) > 0 && plan.IsLocalLink(p.URL) {
		say("The link in messages, %s, works only at home; messages say so.", p.URL)
	}
	for _, x := range senders {
		say("Try it: ootherm check%s --send %q", configpath.Flag(path), x.Name)
	}
	describeOutputs(say, c)
	if h := c.Station.Heartbeat; h == nil {
		say("Consider: there is no heartbeat, so a station that is dead goes unnoticed until somebody looks at the page: a night, or a week away. Mail needs the router; a power cut is told only from outside.")
	} else {
		say("A dead station goes unnoticed for %s and what the watcher of its heartbeat grants beyond that; set that to %s or so, and have it call somebody.", words.Span(h.Every), words.Span(2*h.Every))
	}
	return nil
}

// Copies writes how the book is copied off the card, and how old the last copy is.
func Copies(ctx context.Context, w io.Writer, path string, build daemon.Build) error {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	say := func(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }
	x := bookcopy.New(c, plan)
	if x.Sender == "" && x.To.Folder == "" {
		say(`Consider: the book is on this card alone. A mail sender takes a copy of it away each week; so does a stick: [copy] folder = "/mnt/stick".`)
		return nil
	}
	if same, err := bookcopy.SameDisk(x.To.Folder, c.Station.Data); x.To.Folder != "" && err == nil && same {
		say("Consider: %s is on the same disk as %s, so a copy there goes when that goes; is the stick in?", x.To.Folder, c.Station.Data)
	}
	day := c.Copy.Day.String()
	if _, err := os.Stat(filepath.Join(c.Station.Data, storage.RecordsName)); errors.Is(err, os.ErrNotExist) {
		say("A copy of the book is made each %s %s. There is no book yet.", day, destinations(x))
		return nil
	}
	copies, at, err := copiesOf(ctx, path, build)
	if err != nil {
		say("A copy of the book is made each %s %s. How old the last copy is, is not known: %s", day, destinations(x), err)
		return nil
	}
	say("A copy of the book is made each %s %s.", day, destinations(x))
	reader := words.Reader{Units: plan.Units, Place: plan.Location}
	if x.To.Folder != "" && !slices.ContainsFunc(copies, func(k snapshot.Copy) bool { return k.By == "folder" }) {
		say("The station has only just started and has not looked into %s yet.", x.To.Folder)
	}
	for _, k := range copies {
		where := "by " + k.To
		if k.By == "folder" {
			where = "in " + k.To
		}
		switch {
		case k.At == nil:
			say("No copy of the book is %s yet.", where)
		default:
			say("The last copy of the book %s is %s old, of %s.", where, words.Span(at.Sub(*k.At)), reader.When(*k.At, at))
		}
		if k.Err != nil {
			say("Repair: the copy %s fails: %s", where, *k.Err)
		} else if k.Waiting {
			say("The next one waits to be sent.")
		}
	}
	return nil
}

// copiesOf asks the station, running or opened from its files, for the state of the
// copies and its time.
func copiesOf(ctx context.Context, path string, build daemon.Build) ([]snapshot.Copy, time.Time, error) {
	client, err := client.Dial(ctx, path, build)
	if err != nil {
		return nil, time.Time{}, err
	}
	n, err := client.Now(ctx)
	if err = errors.Join(err, client.Close()); err != nil {
		return nil, time.Time{}, err
	}
	return n.Health.Copies, n.At, nil
}

// destinations says where copies of the book go.
func destinations(x *bookcopy.Backup) string {
	switch {
	case x.To.Folder == "":
		return "by " + x.Sender
	case x.Sender == "":
		return "to " + x.To.Folder
	}
	return "by " + x.Sender + " and to " + x.To.Folder
}

// describeOutputs warns of a lamp or buzzer on a pin that probes use. The pins are those of
// the manual's topic wiring; an overlay may move them.
func describeOutputs(say func(string, ...any), c config.Config) {
	wires := map[string]string{}
	for _, p := range c.Probes {
		switch {
		case p.Bus == "/dev/i2c-1":
			wires["GPIO2"], wires["GPIO3"] = "the bus /dev/i2c-1", "the bus /dev/i2c-1"
		case p.Driver == "ds18b20":
			wires["GPIO4"] = "1-Wire, unless its overlay says otherwise,"
		}
	}
	for _, x := range c.Senders {
		if bus := wires[x.Output]; bus != "" {
			say("Consider: %s is at %s, a wire of %s which has probes of yours; wire it elsewhere, or they fall silent with each alarm.", x.Name, x.Output, bus)
		}
	}
}
