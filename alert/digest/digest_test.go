package digest_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/digest"
)

var noon = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)

// told is a message about an episode of a zone, so many minutes after noon.
func told(zone string, minutes int, p alert.Priority, over bool) alert.Message {
	k := alert.Key{Kind: alert.TemperatureLow, Priority: p, Zone: zone}
	at := noon.Add(time.Duration(minutes) * time.Minute)
	subject := fmt.Sprintf("%s at %d", zone, minutes)
	return alert.Message{ID: fmt.Sprintf("%s/%d", k, minutes), Alarm: k.String(), At: at, Priority: p, Over: over,
		Subject: subject, Body: subject + "\nfrom 11:50, for a while.\n", Threads: []alert.Thread{alert.NewThread(k, zone, noon)}}
}

// Of one episode the newest message is told whole, and each before it in one line.
func TestOneEpisode(t *testing.T) {
	parts := []alert.Message{told("room", 9, alert.Critical, false), told("room", 1, alert.Warning, false), told("room", 5, alert.Warning, false)}
	m := digest.Of(parts)
	if m.Subject != "room at 9" || m.Priority != alert.Critical || m.Alarm != parts[0].Alarm || len(m.Threads) != 1 || !m.At.Equal(parts[0].At) {
		t.Errorf("%+v", m)
	}
	first, fifth := strings.Index(m.Body, "  2026-04-02 12:01  room at 1\n"), strings.Index(m.Body, "  2026-04-02 12:05  room at 5\n")
	if first < 0 || fifth < first || strings.Count(m.Body, "from 11:50") != 1 || !strings.HasPrefix(m.Body, "room at 9\n") {
		t.Errorf("it says\n%s", m.Body)
	}
	if ids := []string{parts[0].ID, parts[1].ID, parts[2].ID}; !slices.Equal(m.Parts, ids) {
		t.Errorf("parts %q, want %q", m.Parts, ids)
	}
}

// Of several episodes the most urgent comes first. It is over only where all are. An episode
// that began and ended while its messages waited is one line.
func TestSeveralEpisodes(t *testing.T) {
	m := digest.Of([]alert.Message{told("attic", 2, alert.Warning, false), told("attic", 8, alert.Warning, true), told("room", 5, alert.Critical, false)})
	if m.Subject != "room at 5, and 1 more" || m.Over || m.Alarm != "" || !m.At.Equal(noon.Add(5*time.Minute)) || len(m.Threads) != 2 {
		t.Errorf("%+v", m)
	}
	if !strings.Contains(m.Body, "2 messages in one.\n") || !strings.Contains(m.Body, "Meanwhile, from 12:02: from 11:50, for a while.\n") || strings.Contains(m.Body, "attic at 2") {
		t.Errorf("it says\n%s", m.Body)
	}
	both := digest.Of([]alert.Message{told("room", 5, alert.Critical, true), told("attic", 8, alert.Warning, true)})
	if !both.Over {
		t.Error("two ends are no end")
	}
}

// Of more than twenty episodes the rest have a line each. None is left out, and the last file
// goes with them.
func TestManyEpisodes(t *testing.T) {
	var parts []alert.Message
	for i := range 23 {
		m := told(fmt.Sprintf("zone %02d", i), i, alert.Warning, false)
		if i == 3 || i == 7 {
			m.Attach = fmt.Sprintf("file %d", i)
		}
		parts = append(parts, m)
	}
	m := digest.Of(parts)
	if m.Attach != "file 7" || len(m.Parts) != 23 || strings.Count(m.Body, "from 11:50") != 20 {
		t.Errorf("it has %q and %d parts, %d of them whole", m.Attach, len(m.Parts), strings.Count(m.Body, "from 11:50"))
	}
	_, short, found := strings.Cut(m.Body, "\nAnd in short:\n")
	if !found || strings.Count(short, "\n") != 3 || !strings.Contains(short, "zone 22 at 22\n") {
		t.Errorf("in short it says\n%s", short)
	}
}
