package setup

import (
	"fmt"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
)

// hub is a broker at which a hub publishes the values of its probes.
type hub struct {
	url, user string
	secret    secretFile
	probes    []hubProbe
}

// hubProbe is a probe that is read from the broker.
type hubProbe struct {
	name  string
	lines []string // key = value, without those of the broker
}

// hubName names the file of the broker's password.
const hubName = "hub"

// text gives the sections of the probes.
func (h hub) text() string {
	var b strings.Builder
	for _, p := range h.probes {
		fmt.Fprintf(&b, "[[probe]]\nname = %s\ndriver = \"mqtt\"\nurl = %s\n%s\n", config.Quote(p.name), config.Quote(h.url), strings.Join(p.lines, "\n"))
		if h.user != "" {
			fmt.Fprintf(&b, "user = %s\npassword_file = %s\n", config.Quote(h.user), config.Quote(h.secret.path))
		}
		b.WriteString("\n")
	}
	return b.String()
}

// askHub asks for the probes that a hub publishes at a broker.
func (w *wizard) askHub(t *dialog, file string) error {
	more, err := t.Yes("Does a hub publish radio probes at an MQTT broker")
	if err != nil || !more {
		return err
	}
	if w.hub.url, err = t.askProbeValue("the broker, as mqtt://127.0.0.1:1883 or mqtts://host:8883", "url", `topic = "t"`); err != nil {
		return err
	}
	if w.hub.user, err = t.Ask("  your user name at the broker (Enter: none)"); err != nil {
		return err
	}
	if w.hub.user != "" {
		if w.hub.secret, err = t.askSecret(hubName, "password", "the password", file); err != nil {
			return err
		}
	}
	for {
		p, err := askHubProbe(t, probeNames(w))
		if err != nil {
			return err
		}
		w.hub.probes = append(w.hub.probes, p)
		if err := w.hang(t, p.name); err != nil {
			return err
		}
		if more, err := t.Yes("Another probe of this broker"); err != nil || !more {
			return err
		}
	}
}

// askHubProbe asks for one probe: its topic, what is in its messages, and its name.
// The name is none of those that are taken.
func askHubProbe(t *dialog, taken []string) (hubProbe, error) {
	p := hubProbe{}
	topic, err := t.askProbeValue("the topic of the probe, as hub/shelf", "topic", `url = "mqtt://h"`)
	if err != nil {
		return p, err
	}
	p.lines = []string{"topic = " + config.Quote(topic)}
	field, err := t.askOr("  the field of its temperature; - if a message is the number alone", "temperature")
	if err != nil {
		return p, err
	}
	if field != "-" {
		p.lines = append(p.lines, "temperature = "+config.Quote(field))
	}
	units, err := t.askChoice("  its temperatures are in", "celsius", "fahrenheit")
	if err != nil {
		return p, err
	}
	p.lines = append(p.lines, fmt.Sprintf("units = %q", units))
	if field != "-" {
		humidity, err := t.Ask("  the field of its humidity, as humidity (Enter: it measures none)")
		if err != nil {
			return p, err
		}
		if humidity != "" {
			percent, err := t.YesUnlessRefused("  its humidity is in percent")
			if err != nil {
				return p, err
			}
			p.lines = append(p.lines, "humidity = "+config.Quote(humidity), fmt.Sprintf("percent = %t", percent))
		}
	}
	usual := topic[strings.LastIndex(topic, "/")+1:]
	for {
		p.name, err = t.askName("  its name, by where it hangs", usual, "probe")
		if err != nil {
			return p, err
		}
		if p.name != "-" && !slices.Contains(taken, p.name) {
			break
		}
		t.Say("  %q is another's name already, or none.", p.name)
	}
	return p, nil
}

// askProbeValue asks for a value of a probe that is read from a broker, until the configuration
// takes it beside other lines.
func (t *dialog) askProbeValue(question, key, other string) (string, error) {
	for {
		answer, err := t.Ask("  " + question)
		if err != nil {
			return "", err
		}
		if answer == "" {
			t.Say("  Nothing was typed. Write %s.", question)
		} else if !t.hasFault("[[probe]]\nname = \"p\"\ndriver = \"mqtt\"\n"+other+"\n"+key+" = "+config.Quote(answer)+"\n", "probe", key) {
			return answer, nil
		}
	}
}

// probeNames gives the names of the probes so far.
func probeNames(w *wizard) (all []string) {
	for _, p := range w.probes {
		all = append(all, p.Name)
	}
	for _, p := range w.hub.probes {
		all = append(all, p.name)
	}
	return all
}
