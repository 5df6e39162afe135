package check_test

import (
	"bytes"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/check"
)

// Check says how long a dead station goes unnoticed, with a heartbeat and without one.
func TestCheckSaysHowLongADeadStationGoesUnnoticed(t *testing.T) {
	for text, want := range map[string]string{
		"": "there is no heartbeat, so a station that is dead goes unnoticed until somebody looks at the page",
		"heartbeat = \"https://watch.example.org/x\"\n":                           "A dead station goes unnoticed for 5 min and what the watcher of its heartbeat grants beyond that; set that to 10 min",
		"heartbeat = { url = \"https://watch.example.org/x\", every = \"2m\" }\n": "A dead station goes unnoticed for 2 min and what the watcher of its heartbeat grants beyond that; set that to 4 min",
	} {
		path := benchtest.Edited(t, "name = \"egg room\"\n", "name = \"egg room\"\n"+text)
		var said bytes.Buffer
		if err := check.Configuration(&said, path); err != nil || !strings.Contains(said.String(), want) || strings.Count(said.String(), "goes unnoticed") != 1 {
			t.Errorf("with %q it says (%v)\n%s\nwant %s", text, err, said.String(), want)
		}
		if strings.Contains(said.String(), "watch.example.org/x") {
			t.Errorf("it shows the heartbeat's address, which is a secret:\n%s", said.String())
		}
	}
}

// Check warns of a lamp on a pin of the probes, because it would silence them.
func TestCheckWarnsOfALampOnThePinOfProbes(t *testing.T) {
	lamp := func(at string) string {
		return "[[sender]]\nname = \"light\"\nkind = \"lamp\"\noutput = \"" + at + "\"\n[[probe]]\nname = \"box\"\ndriver = \"ds18b20\"\naddress = \"28-0123456789ab\"\n" +
			"[[probe]]\nname = \"shelf\"\ndriver = \"sht4x\"\nbus = \"/dev/i2c-1\"\n"
	}
	for at, want := range map[string]string{
		"GPIO4": "light is at GPIO4, a wire of 1-Wire, unless its overlay says otherwise, which has probes of yours; wire it elsewhere",
		"GPIO3": "light is at GPIO3, a wire of the bus /dev/i2c-1 which has probes", "GPIO17": "",
	} {
		var said bytes.Buffer
		err := check.Configuration(&said, benchtest.Written(t, lamp(at)))
		if err != nil || !strings.Contains(said.String(), want) || want == "" && strings.Contains(said.String(), "light is at") {
			t.Errorf("%s: %v\n%s", at, err, said.String())
		}
	}
}
