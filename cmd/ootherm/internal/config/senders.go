package config

import (
	"fmt"
	"net/mail"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Kinds lists the kinds of senders. A lamp carries no messages: it is lit while an alarm is
// active.
func Kinds() []Variant {
	return []Variant{
		{Name: "email", Keys: []string{"host", "port", "user", "password_file", "from", "to", "tls", "ca_file", "all_well"}},
		{Name: "webhook", Keys: []string{"url", "headers", "user", "password_file", "ca_file", "body", "secret_file", "all_well"}},
		{Name: "mqtt", Keys: []string{"url", "topic", "user", "password_file", "ca_file", "state", "discovery", "all_well"}},
		{Name: "alertmanager", Keys: []string{"url", "headers", "user", "password_file", "ca_file"}},
		{Name: "buzzer", Keys: []string{"output"}},
		{Name: "lamp", Keys: []string{"output"}},
	}
}

// Quiet is a part of the day. Both ends count from midnight. It runs over midnight if To is
// earlier.
type Quiet struct{ From, To time.Duration }

// maxMessagesPerHour limits the key most_an_hour: a message per minute (our choice).
const maxMessagesPerHour = 60

// senderSection reads a [[sender]].
type senderSection struct{ *table }

// read reads the section.
func (t senderSection) read() Sender {
	s := Sender{Name: t.name("sender"), Mail: Mail{TLS: defaultTLS}}
	s.After = t.span("after", 0)
	s.Priorities = t.texts("priorities")
	for _, p := range s.Priorities {
		if known := []string{"critical", "warning", "notice"}; !slices.Contains(known, p) {
			t.fault("priorities", "%q is not known; %s", p, suggestion(p, known))
		}
	}
	s.Quiet = t.quiet("quiet")
	if n := t.integer("most_an_hour", "a number of messages", 1, maxMessagesPerHour); n != nil {
		s.Most = *n
	}
	s.Kind = t.kind("kind", Kinds())
	needs := func(key, how string) {
		if t.node.find(key) == nil {
			t.missing(key, "%s", how)
		}
	}
	switch s.Kind {
	case "email":
		t.email(&s)
	case "webhook":
		needs("url", `say where to post: url = "https://..."`)
		t.http(&s)
		s.Body, s.SecretFile = t.text("body"), t.text("secret_file")
	case "mqtt":
		needs("url", `say where the broker is: url = "mqtt://127.0.0.1:1883"`)
		s.URL, s.Topic, s.Discovery = broker(t.table, "url"), t.text("topic"), t.text("discovery")
		s.CAFile = certificates(t.table, strings.HasPrefix(s.URL, "mqtt:"))
		s.State = t.node.find("state") == nil || t.boolean("state")
		t.asked = append(t.asked, "state")
		s.User, s.PasswordFile = login(t.table)
	case "alertmanager":
		needs("url", `say where the receiver is: url = "http://127.0.0.1:9093"`)
		t.http(&s)
	case "buzzer", "lamp":
		needs("output", `say which output of the board: output = "GPIO17"`)
		s.Output = t.output("output")
	default:
		t.asked = append(t.asked, keysOf(Kinds())...) // an unknown kind: accept the keys of all
	}
	switch s.Kind {
	case "email", "webhook", "mqtt":
		s.AllWell = t.dailyReport("all_well", s)
	}
	t.done(map[string]string{
		"password": "a password does not belong in this file: put it in a file that only the station may read and name that file with password_file",
		"secret":   "a secret does not belong in this file: put it in a file that only the station may read and name that file with secret_file",
	}, otherVariantKeys(Kinds(), s.Kind))
	return s
}

// http reads where a receiver over HTTP is, and how both sides know each other.
func (t senderSection) http(s *Sender) {
	s.URL, s.Headers = t.address("url"), t.headers("headers")
	s.User, s.PasswordFile = login(t.table)
	s.CAFile = certificates(t.table, strings.HasPrefix(s.URL, "http:"))
}

// outputCount is the number of outputs on the header of a Pi, GPIO0 to GPIO27 (BCM numbers,
// not places on the header; Raspberry Pi documentation, from memory).
const outputCount = 28

// output reads an output of the board, as GPIO17 or 17.
func (t senderSection) output(name string) string {
	text := t.text(name)
	if text == "" {
		return ""
	}
	digits := strings.TrimPrefix(strings.ToUpper(text), "GPIO")
	n, err := strconv.ParseUint(digits, 10, 8)
	if err != nil || n >= outputCount {
		t.fault(name, "%q is not an output of the board; write GPIO0 to GPIO%d, the name beside the pin and not its place on the header", text, outputCount-1)
		return ""
	}
	return fmt.Sprintf("GPIO%d", n)
}

// checkOutputs reports two senders at one output.
func (f *file) checkOutputs(root *table, senders []Sender) {
	first := map[string]string{}
	for i, t := range root.sectionsAgain("sender") {
		if i >= len(senders) || senders[i].Output == "" {
			continue
		}
		if by, taken := first[senders[i].Output]; taken {
			t.fault("output", "%s is taken by the sender %q already; connect one of them to another output", senders[i].Output, by)
			continue
		}
		first[senders[i].Output] = senders[i].Name
	}
}

// dailyReport reads the time of day at which the daily report is sent.
func (t senderSection) dailyReport(name string, s Sender) *time.Duration {
	text := t.text(name)
	if text == "" {
		return nil
	}
	at, err := timeOfDay(text)
	if err != nil {
		t.fault(name, "%v", err)
		return nil
	}
	if s.After > 0 {
		t.fault(name, "a sender with after gets only critical alarms; write all_well in another sender")
	}
	if q := s.Quiet; q != nil && (Spell{From: q.From, To: q.To}).contains(time.Time{}.Add(at)) && q.From != q.To {
		t.fault(name, "is within the quiet hours, and the report is not sent later; choose a time outside them")
	}
	return &at
}

// quiet reads the hours in which only critical messages are sent.
func (t senderSection) quiet(name string) *Quiet {
	s := t.section(name, `hours: { from = "22:00", to = "07:00" }`)
	if s == nil {
		return nil
	}
	q := &Quiet{From: s.hour("from"), To: s.hour("to")}
	s.done()
	return q
}

// headers reads the headers of a webhook.
func (t senderSection) headers(name string) map[string]string {
	h := t.section(name, `a section: { "X-Name" = "value" }`)
	if h == nil {
		return nil
	}
	all := map[string]string{}
	for _, k := range h.node.keys {
		all[k.name] = h.text(k.name)
	}
	return all
}

// email reads the keys of a mail sender.
func (t senderSection) email(s *Sender) {
	s.Host = t.text("host")
	if s.Host == "" && t.node.find("host") == nil {
		t.missing("host", `say which server takes your mail: host = "smtp.example.org"`)
	}
	s.TLS = t.choice("tls", defaultTLS, "tls", "none")
	if s.TLS == "none" && s.Host != "" && !loopback(s.Host) {
		t.fault("tls", `"none" would send the password in the clear to %s; write "starttls" or "tls"`, s.Host)
	}
	s.Port = map[string]int{"starttls": 587, "tls": 465, "none": 25}[s.TLS]
	if p := t.integer("port", "the server's port, often 587", 1, 65535); p != nil {
		s.Port = *p
	}
	s.User, s.PasswordFile = login(t.table)
	s.CAFile = certificates(t.table, s.TLS == "none")
	s.To = t.texts("to")
	for _, to := range s.To {
		t.mailbox("to", to)
	}
	if len(s.To) == 0 && (t.node.find("to") == nil || t.node.find("to").node.kind == unstable.Array) {
		t.missing("to", `say who reads it: to = ["keeper@example.org"]`)
	}
	s.From = t.text("from")
	switch {
	case s.From != "":
		t.mailbox("from", s.From)
	case isMailbox(s.User):
		s.From = s.User
	case len(s.To) > 0:
		s.From = s.To[0]
	}
}

// isMailbox reports whether a text is a mail address.
func isMailbox(s string) bool {
	a, err := mail.ParseAddress(s)
	return err == nil && a.Address != ""
}

// mailbox reports a text that is not a mail address.
func (t senderSection) mailbox(name, s string) {
	if !isMailbox(s) {
		t.fault(name, "%q is not a mail address; write it as keeper@example.org", s)
	}
}
