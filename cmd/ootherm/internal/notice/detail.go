package notice

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// maxNamedEggs is how many eggs a subject names (our choice).
const maxNamedEggs = 2

// maxNamedDamages is how many spans a message names (our choice).
const maxNamedDamages = 3

func driftDetail(c *composer, e alert.Event) []string {
	x := c.Alarms[e.Key]
	if x.Drift == nil {
		return nil
	}
	return []string{c.r.Coming(*x.Drift, e.At) + "; now " + c.r.Temperature(c.Probes[x.DriftProbe].Celsius) + "."}
}

// rateDetail is where a fast change has got to, and when it leaves the band, or the safe one
// once it has left that.
func rateDetail(c *composer, e alert.Event) []string {
	z := c.zone(e.Key.Zone)
	if z == nil || z.Extreme == nil {
		return nil
	}
	now := "Now " + c.r.Temperature(*z.Extreme)
	if z.NextLimit != nil {
		now += "; " + c.r.Coming(*z.NextLimit, c.Now)
	}
	return []string{now + "."}
}

func busDetail(c *composer, e alert.Event) []string {
	return []string{"Silent: " + strings.Join(c.Buses[e.Key.Part], ", ") + "; all of " + e.Key.Part + "."}
}

// humiditySilentDetail is what goes on, and why the rest does not.
func humiditySilentDetail(c *composer, e alert.Event) []string {
	p, ok := c.Probes[e.Key.Probe]
	if !ok || math.IsNaN(p.Celsius) {
		return nil
	}
	goesOn := "Its temperature goes on: " + c.r.Temperature(p.Celsius) + "."
	if p.HumidityCause != "" {
		goesOn += " Of its humidity: " + words.Cause(p.HumidityCause) + "."
	}
	if z := c.zone(e.Key.Zone); z != nil && z.WatchesHumidity && !z.MeasuresHumidity {
		goesOn += " No other probe here measures humidity, so too dry and too damp are not watched."
	}
	return []string{goesOn}
}

func disagreeDetail(c *composer, e alert.Event) []string {
	var all []string
	if z := c.zone(e.Key.Zone); z != nil {
		for _, name := range slices.Concat(z.Probes, z.Boxed) {
			if p := c.Probes[name]; p.Fresh {
				all = append(all, name+" "+c.r.Temperature(p.Celsius))
			}
		}
	}
	return []string{strings.Join(all, ", ") + "."}
}

// windowDetail is the window of a clutch in a box; of eggs that came there apart, that of those
// in the state that the alarm tells of.
func windowDetail(c *composer, e alert.Event) []string {
	state := map[alert.Kind]string{alert.WindowOpening: snapshot.StateCheckDaily, alert.Hatching: snapshot.StateHatching, alert.Late: snapshot.StateLate}
	x := c.clutch(e.Key, state[e.Key.Kind])
	if x == nil || x.Window == nil {
		return nil
	}
	return []string{fmt.Sprintf("%s (%s), %s left: %s.", x.Name, strings.Join(x.Dams, " or "), words.Count(x.Left, "egg", "eggs"), c.r.Window(*x.Window))}
}

// clutch is the clutch of an alarm, those of its eggs first that are in a state; nil where there
// is none.
func (c *composer) clutch(k alert.Key, state string) (found *Clutch) {
	for i := range c.Clutches {
		x := &c.Clutches[i]
		if k.Clutch == "" || x.Box != k.Box || x.Name != k.Clutch {
			continue
		}
		if found == nil || x.State == state && found.State != state {
			found = x
		}
	}
	return found
}

func restartDetail(c *composer, e alert.Event) []string {
	return []string{
		fmt.Sprintf("Nothing was measured from %s.", c.r.Between(c.Started.Add(-c.Off), c.Started, e.At)),
		"What the eggs felt meanwhile is taken from the readings on either side; their windows allow for it.",
	}
}

func clockDetail(*composer, alert.Event) []string {
	return []string{"Readings and alarms go on; they are dated again once the time is known."}
}

func storageHeadline(c *composer, e alert.Event, h *head) {
	if e.Key.Priority != alert.Critical { // readings are still saved
		h.says(fmt.Sprintf("card nearly full: %d MB left", c.FreeBytes>>20))
	}
}

func senderDetail(c *composer, e alert.Event) []string {
	x, failed := c.Senders[e.Key.Part]
	if !failed {
		return nil
	}
	return []string{fmt.Sprintf("Nothing got through since %s: %s", c.r.When(x.Since, e.At), x.Err)}
}

func heartbeatDetail(c *composer, e alert.Event) []string {
	if c.Heartbeat.Err == "" {
		return nil
	}
	return []string{fmt.Sprintf("It has not got out since %s: %s", c.r.When(c.Heartbeat.Since, e.At), c.Heartbeat.Err)}
}

func copyDetail(c *composer, _ alert.Event) []string { return []string{c.CopyTrouble + "."} }

// damageDetail names the spans that cannot be read.
func damageDetail(c *composer, e alert.Event) []string {
	var lines []string
	for i, d := range c.Damages {
		if i == maxNamedDamages {
			lines = append(lines, fmt.Sprintf("%s more cannot be read.", words.Count(len(c.Damages)-i, "span", "spans")))
			break
		}
		lines = append(lines, fmt.Sprintf("Readings of %s cannot be read: %s.", d.Probe, c.r.Between(d.From, d.To, e.At)))
	}
	if c.ReadError != "" {
		lines = append(lines, fmt.Sprintf("Earlier readings cannot be read just now: %s. The station tries again every ten minutes.", c.ReadError))
	}
	return append(lines, "They count as not measured. Alarms and windows go on.")
}
