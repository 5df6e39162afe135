package email_test

import (
	"fmt"
	"mime"
	netmail "net/mail"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// told is a message of an alarm of a zone that got too cold.
func told(id string, threads ...alert.Thread) alert.Message {
	return alert.Message{ID: "temperature-low.warning/room/" + id, At: at, Priority: alert.Warning, Subject: "▼ ROOM getting too cold: 20.0 °C", Body: "b", Threads: threads}
}

func thread(zone string, began time.Time) alert.Thread {
	t := alert.NewThread(alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: zone}, zone, began)
	t.Subject = strings.ToUpper(zone) + " too cold"
	return t
}

// Mail programs group the messages of an episode: all of them reply to one message, which no
// message of another episode or station does, and their subjects share a stem. A message of
// several episodes replies to each.
func TestMessagesOfAnEpisodeAreGrouped(t *testing.T) {
	k := &sink{}
	port, _ := serve(t, k, "none")
	s := sender(t, config(port))
	room, next, shelf := thread("room", at), thread("room", at.Add(time.Hour)), thread("shelf", at)
	for _, m := range []alert.Message{told("1", room), told("2", room), told("3", next), told("4", room, shelf), told("5", shelf), told("6")} {
		if err := s.Send(t.Context(), m); err != nil {
			t.Fatal(err)
		}
	}
	other := config(port)
	other.Station = "other room"
	if err := sender(t, other).Send(t.Context(), told("1", room)); err != nil {
		t.Fatal(err)
	}
	mails, _ := k.received()
	if len(mails) != 7 {
		t.Fatalf("%d mails", len(mails))
	}
	var reply [][]string
	var root, id, subject []string
	for _, raw := range mails {
		m, err := netmail.ReadMessage(strings.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		text, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
		if err != nil {
			t.Fatal(err)
		}
		reply = append(reply, strings.Fields(m.Header.Get("In-Reply-To")))
		root, id, subject = append(root, m.Header.Get("References")), append(id, m.Header.Get("Message-ID")), append(subject, text)
	}
	if root[0] == "" || root[0] != root[1] || root[0] != root[3] || root[2] == root[0] || root[4] == root[0] || root[5] != "" || root[6] == root[0] {
		t.Errorf("references %q", root)
	}
	if !slices.Equal(reply[0], []string{root[0]}) || !slices.Equal(reply[3], []string{root[0], root[4]}) || len(reply[5]) != 0 {
		t.Errorf("in reply to %q", reply)
	}
	if slices.Contains(id, root[0]) || id[0] == id[1] {
		t.Errorf("identities %q, of the thread %q", id, root[0])
	}
	if subject[0] != "▼ ROOM getting too cold: 20.0 °C [ROOM too cold]" || subject[5] != "▼ ROOM getting too cold: 20.0 °C" {
		t.Errorf("subjects %q", subject)
	}
}

// A digest of many episodes keeps to the length of a line (RFC 5322 section 2.1.1), and names
// each of them.
func TestDigestOfManyEpisodesKeepsItsLines(t *testing.T) {
	k := &sink{}
	port, _ := serve(t, k, "none")
	var all []alert.Thread
	for i := range 40 {
		all = append(all, thread(fmt.Sprintf("room %d", i), at))
	}
	if err := sender(t, config(port)).Send(t.Context(), told("1", all...)); err != nil {
		t.Fatal(err)
	}
	mails, _ := k.received()
	for line := range strings.Lines(mails[0]) {
		if n := len(strings.TrimRight(line, "\r\n")); n > 998 {
			t.Errorf("a line of %d characters", n)
		}
	}
	m, err := netmail.ReadMessage(strings.NewReader(mails[0]))
	if err != nil || len(strings.Fields(m.Header.Get("In-Reply-To"))) != 40 {
		t.Errorf("in reply to %q (%v)", m.Header.Get("In-Reply-To"), err)
	}
}
