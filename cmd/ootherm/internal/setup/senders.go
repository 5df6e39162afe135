package setup

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// senderDraft is one sender as it will be in the configuration. Its secret goes to a file
// of its own, beside the configuration.
type senderDraft struct {
	kind, name string
	lines      []string // key = value
	secret     secretFile
}

// secretFile is the file of a secret, beside the configuration.
type secretFile struct {
	path    string // empty: there is no secret
	text    string // to be written; empty: the file exists already
	isEmpty bool   // the file exists and is empty
}

func (s *senderDraft) set(key, value string) {
	s.lines = append(s.lines, key+" = "+config.Quote(value))
}

// text gives the sender's section.
func (s senderDraft) text() string {
	return "[[sender]]\nname = " + config.Quote(s.name) + "\nkind = " + config.Quote(s.kind) + "\n" + strings.Join(s.lines, "\n") + "\n"
}

// askSenders asks for the senders, one after the other.
func (w *wizard) askSenders(t *dialog, file string) error {
	var kinds []string
	for _, k := range config.Kinds() {
		kinds = append(kinds, k.Name)
	}
	t.Say("Alarms show on the page. To be woken by one, have it sent too: by email; by webhook to")
	t.Say("a service that accepts a web request; to an mqtt broker or an alertmanager; to a buzzer")
	t.Say("or a lamp on the board. Two ways are better than one.")
	for {
		question := "Send alarms by"
		if len(w.senders) > 0 {
			question = "And by"
		}
		kind, err := t.Ask(question + " (" + strings.Join(kinds, ", ") + "; Enter: no more)")
		if err != nil || kind == "" {
			return err
		}
		if !slices.Contains(kinds, strings.ToLower(kind)) {
			t.Say("%q is none of these.", kind)
			continue
		}
		s := senderDraft{kind: strings.ToLower(kind)}
		if err := w.askSender(t, &s, file); err != nil {
			return err
		}
		w.senders = append(w.senders, s)
	}
}

// askSender asks for what one sender needs.
func (w *wizard) askSender(t *dialog, s *senderDraft, file string) error {
	s.name = w.usualSenderName(s.kind) // until it is asked for
	q := &senderQuestions{t: t, s: s, config: file, name: func() error { return w.askSenderName(t, s) }}
	for _, x := range w.senders { // two may not share an output
		q.before += x.text()
	}
	switch s.kind {
	case "email":
		q.email()
	case "webhook":
		q.value("url", "the address to post to, as https://hooks.example.org/x")
		q.ownName()
		if q.yes("Does it want each message signed with a secret") {
			q.secret("secret_file", "the secret")
		}
	case "mqtt":
		q.value("url", "the broker, as mqtt://127.0.0.1:1883 or mqtts://host:8883")
		q.ownName()
		q.user("your user name at the broker (Enter: none)")
	case "alertmanager":
		q.value("url", "its address, as http://127.0.0.1:9093")
		q.ownName()
	default:
		q.value("output", "the output of the board it is wired to, as GPIO17 (3.3 V and a few mA, never mains)")
		q.ownName()
	}
	if len(w.senders) > 0 && s.reachesAPerson() && q.yes("Only when a critical alarm has not been seen for 15 min: for a neighbour") {
		s.set("after", "15m")
	}
	return q.err
}

// usualSenderName gives a name that no sender has, after its kind.
func (w *wizard) usualSenderName(kind string) string {
	usual := kind
	for n := 2; w.hasSender(usual); n++ {
		usual = fmt.Sprintf("%s-%d", kind, n)
	}
	return usual
}

// askSenderName asks for a name that no sender before has.
func (w *wizard) askSenderName(t *dialog, s *senderDraft) (err error) {
	usual := s.name
	for {
		s.name, err = t.askName("  a name for it", usual, "sender")
		switch {
		case err != nil:
			return err
		case strings.ContainsRune(s.name, filepath.Separator): // its secret's file would be in another folder
			t.Say("  %q has a %c in it; the name is part of a file's name.", s.name, filepath.Separator)
		case w.hasSender(s.name):
			t.Say("  %q is another's name already.", s.name)
		default:
			return nil
		}
	}
}

// senderQuestions asks for the values of one sender. After the first error it asks no more.
type senderQuestions struct {
	t      *dialog
	s      *senderDraft
	config string // the path of the configuration
	before string // the sections of the senders before
	name   func() error
	err    error
}

// ownName asks for the sender's name, which a secret's file has too.
func (q *senderQuestions) ownName() {
	if q.err == nil {
		q.err = q.name()
	}
}

func (q *senderQuestions) ask(question string) (answer string) {
	if q.err == nil {
		answer, q.err = q.t.Ask("  " + question)
	}
	return answer
}

// lines asks until the configuration takes the lines that an answer makes.
func (q *senderQuestions) lines(question string, of func(answer string) []string, keys ...string) {
	kept := q.s.lines
	for {
		answer := q.ask(question)
		if q.err != nil {
			return
		}
		if answer == "" {
			q.t.Say("  Nothing was typed. Write %s.", question)
			continue
		}
		q.s.lines = append(slices.Clone(kept), of(answer)...)
		if !q.t.hasFault(q.before+q.s.text(), "sender", keys...) {
			return
		}
	}
}

// value asks for the value of one key until the configuration takes it.
func (q *senderQuestions) value(key, question string) {
	q.lines(question, func(answer string) []string { return []string{key + " = " + config.Quote(answer)} }, key)
}

func (q *senderQuestions) yes(question string) (yes bool) {
	if q.err == nil {
		yes, q.err = q.t.Yes("  " + question)
	}
	return yes
}

func (q *senderQuestions) secret(key, what string) {
	if q.err == nil {
		q.s.secret, q.err = q.t.askSecret(q.s.name, strings.TrimSuffix(key, "_file"), what, q.config)
		q.s.set(key, q.s.secret.path)
	}
}

// user asks for a user's name, and for the password where there is one.
func (q *senderQuestions) user(question string) {
	if user := q.ask(question); user != "" {
		q.s.set("user", user)
		q.secret("password_file", "the password")
	}
}

func (q *senderQuestions) email() {
	q.lines("the mail server that sends for you (your provider calls it SMTP), as smtp.example.org or with :port", func(server string) []string {
		host, port, err := net.SplitHostPort(server)
		if err != nil {
			host, port = server, "587"
		}
		lines := []string{"host = " + config.Quote(host), "port = " + port}
		if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
			return append(lines, `tls = "none"`)
		} else if port == "465" {
			return append(lines, `tls = "tls"`)
		}
		return lines
	}, "host", "port", "tls")
	q.lines("to whom, as keeper@example.org (several: with commas)", func(answer string) []string {
		var to []string
		for _, one := range strings.FieldsFunc(answer, func(r rune) bool { return r == ',' || r == ' ' }) {
			to = append(to, config.Quote(one))
		}
		return []string{"to = [" + strings.Join(to, ", ") + "]"}
	}, "to", "from")
	q.ownName()
	q.user("your user name at the mail provider (Enter: none)")
}

// reachesAPerson reports whether the sender carries text to a person.
func (s *senderDraft) reachesAPerson() bool {
	return s.kind == "email" || s.kind == "webhook" || s.kind == "mqtt"
}

// hasSender reports whether a sender has a name, or would have the password's file of the hub.
func (w *wizard) hasSender(name string) bool {
	return name == hubName && w.hub.secret.path != "" || slices.ContainsFunc(w.senders, func(s senderDraft) bool { return s.name == name })
}

// askSecret asks for a secret, which goes to the file NAME.ENDING beside the configuration,
// which only its owner may read. An existing file that holds a secret stays as it is and is
// used.
func (t *dialog) askSecret(name, ending, what, config string) (s secretFile, err error) {
	if s.path, err = filepath.Abs(filepath.Join(filepath.Dir(config), name+"."+ending)); err != nil {
		return s, err
	}
	if old, err := os.ReadFile(s.path); err == nil && len(bytes.TrimSpace(old)) == 0 {
		s.isEmpty = true // an interrupted setup left it
	} else if !errors.Is(err, os.ErrNotExist) {
		t.Say("  %s is there already and stays as it is; it is taken for %s.", s.path, what)
		return s, nil
	}
	for s.text == "" {
		if s.text, err = t.Secret("  " + what + " (it goes to " + s.path + ", readable by its owner alone)"); err != nil {
			return s, err
		}
	}
	return s, nil
}

// tryMessages offers to send a test message by each sender. It shows each failure, and its
// error names the senders that failed.
func tryMessages(ctx context.Context, c config.Config, o Options, t *dialog) error {
	if len(c.Senders) == 0 {
		return nil
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	routes, err := senders.Routes(c, plan, o.Now)
	if err != nil {
		return err
	}
	var failed []string
	for _, r := range routes {
		ok, err := t.Yes("Send a test message by " + r.Name + " now")
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		if err := senders.SendTest(ctx, o.Out, o.Config, r.Name, o.Now); err != nil {
			if missing := (*senders.HostNotFound)(nil); errors.As(err, &missing) {
				t.Say("It did not go out. %s", words.Capital(missing.Error()))
			} else {
				t.Say("It did not go out: %v.", err)
				t.Say("Change what it names, then: ootherm check%s --send %q", configpath.Flag(o.Config), r.Name)
			}
			failed = append(failed, r.Name)
		}
	}
	if len(failed) > 0 {
		return usererr.New(fmt.Sprintf("setup is complete and %s is written; only the test message by %s did not go out, see above", o.Config, words.List(failed)))
	}
	return nil
}
