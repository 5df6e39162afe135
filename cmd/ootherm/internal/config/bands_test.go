package config

import (
	"strings"
	"testing"
	"time"
)

func zoned(lines string) (Config, error) {
	return ParseReplay("t", []byte("[[zone]]\nname = \"room\"\nprobes = [\"p\"]\n"+lines+"\n"), drivers())
}

// A band by hour and season: the first that holds, at the edges too.
func TestBandsByHourAndSeason(t *testing.T) {
	c, err := zoned(`wanted = [
  { from = "22:00", to = "07:00", season = { from = "1 Nov", to = "28 Feb" }, low = "18C", high = "22C" },
  { from = "22:00", to = "07:00", low = "20C", high = "23C", on_delay = "20m" },
  { season = { from = "1 Nov", to = "28 Feb" }, low = "21C", high = "24C" },
  { low = "22C", high = "25C" },
]
humidity = [{ from = "06:00", to = "08:00", low = "30%" }, { low = "45%" }]`)
	if err != nil {
		t.Fatal(err)
	}
	z := c.Zones[0]
	for _, x := range []struct {
		at  string
		low float64
	}{
		{"2026-06-01T12:00:00Z", 22}, {"2026-06-01T21:59:59Z", 22}, {"2026-06-01T22:00:00Z", 20}, {"2026-06-02T06:59:59Z", 20}, {"2026-06-02T07:00:00Z", 22},
		{"2026-10-31T12:00:00Z", 22}, {"2026-11-01T12:00:00Z", 21}, {"2027-02-28T23:59:00Z", 18}, {"2027-03-01T00:00:00Z", 20}, {"2027-01-01T03:00:00Z", 18},
	} {
		at, err := time.Parse(time.RFC3339, x.at)
		if err != nil {
			t.Fatal(err)
		}
		if b := z.Wanted.At(at); *b.Low != x.low {
			t.Errorf("at %s wanted from %v, want %v", x.at, *b.Low, x.low)
		}
	}
	if b := z.Wanted.At(time.Date(2026, 6, 1, 23, 0, 0, 0, time.UTC)); b.OnDelay != 20*time.Minute || b.OffDelay != defaultOffDelay {
		t.Errorf("by night the delays are %v and %v", b.OnDelay, b.OffDelay)
	}
	if b := z.Humidity.At(time.Date(2026, 6, 1, 7, 0, 0, 0, time.UTC)); *b.Low != 0.3 {
		t.Errorf("at 07:00 humidity from %v", *b.Low)
	}
	var none *Band
	if none.At(time.Now()) != nil {
		t.Error("no band is in force at some time")
	}
}

func TestBandsByHourWrong(t *testing.T) {
	for _, c := range []struct{ lines, says string }{
		{`wanted = [{ from = "22:00", to = "07:00", low = "20C" }]`, "does not always apply"},
		{`wanted = [{ low = "20C" }, { low = "21C" }]`, "the bands after it never do"},
		{`wanted = []`, "is an empty list"},
		{`wanted = [{ from = "22:00", low = "20C" }, { low = "21C" }]`, "wanted.to: is missing"},
		{`wanted = [{ from = "25:00", to = "07:00", low = "20C" }, { low = "21C" }]`, "is not a time of day"},
		{`wanted = [{ season = { from = "1 Nov", to = "31 Feb" }, low = "20C" }, { low = "21C" }]`, "is not a day of the year"},
		{`wanted = [{ season = { from = "1 Nov" }, low = "20C" }, { low = "21C" }]`, "season.to: is missing"},
		{`wanted = [{ from = "22:00", to = "07:00", low = "20C", hi = "23C" }, { low = "21C" }]`, "is not known here"},
		{"wanted = [{ from = \"22:00\", to = \"07:00\", low = \"18C\" }, { low = \"21C\" }]\nsafe = { low = \"20C\" }", "low is below the low of safe"},
	} {
		_, err := zoned(c.lines)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want %q", c.lines, err, c.says)
		}
	}
	if _, err := zoned("wanted = [{ from = \"22:00\", to = \"07:00\", low = \"18C\" }, { low = \"21C\" }]\nsafe = [{ from = \"22:00\", to = \"07:00\", low = \"17C\" }, { low = \"20C\" }]"); err != nil {
		t.Errorf("both lower by night: %v", err)
	}
}

// The line of a day goes to senders that people read, at a time at which they may
// be spoken to.
func TestAllWell(t *testing.T) {
	const mail = "[[sender]]\nname = \"m\"\nkind = \"email\"\nhost = \"h.example.org\"\nto = [\"a@example.org\"]\n"
	c, err := zoned(mail + "all_well = \"08:30\"\nquiet = { from = \"22:00\", to = \"08:00\" }")
	if err != nil || c.Senders[0].AllWell == nil || *c.Senders[0].AllWell != 8*time.Hour+30*time.Minute {
		t.Fatalf("all_well is %+v: %v", c.Senders, err)
	}
	for lines, says := range map[string]string{
		mail + `all_well = "8"`: "is not a time of day",
		mail + "all_well = \"06:00\"\nquiet = { from = \"22:00\", to = \"07:00\" }":              "within the quiet hours",
		mail + "all_well = \"06:00\"\nafter = \"15m\"":                                           "gets only critical alarms",
		"[[sender]]\nname = \"b\"\nkind = \"buzzer\"\noutput = \"GPIO17\"\nall_well = \"06:00\"": "all_well",
	} {
		if _, err := zoned(lines); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: got %v, want %q", lines, err, says)
		}
	}
}
