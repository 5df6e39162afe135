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
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// way is one sender as it will stand in the file. Its secret goes to a file of its
// own, beside the configuration.
type way struct {
	kind, name string
	lines      []string // key = value
	file       string   // of the secret; empty: it has none
	secret     string   // to be written; empty: the file is there already
	empty      bool     // the file is there, and nothing is in it
}

func (w *way) set(key, value string) { w.lines = append(w.lines, key+" = "+config.Quote(value)) }

// text is the sender's section.
func (w way) text() string {
	return "[[sender]]\nname = " + config.Quote(w.name) + "\nkind = " + config.Quote(w.kind) + "\n" + strings.Join(w.lines, "\n") + "\n"
}

// senders asks where alarms go besides the page, one way after the other.
func (d *draft) senders(t *dialog, file string) error {
	var kinds []string
	for _, k := range config.Kinds() {
		kinds = append(kinds, k.Name)
	}
	t.Say("Alarms show on the page. To be woken by one, have it sent too: by email; by webhook to")
	t.Say("whatever takes a web address; to an mqtt broker or an alertmanager; to a buzzer or a")
	t.Say("lamp on the board. Two ways are better than one.")
	for {
		question := "Send alarms by"
		if len(d.ways) > 0 {
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
		w := way{kind: strings.ToLower(kind)}
		if err := d.way(t, &w, file); err != nil {
			return err
		}
		all := "" // beside those that were named before
		for _, x := range append(slices.Clone(d.ways), w) {
			all += x.text()
		}
		if !t.wrong(all, "sender") {
			d.ways = append(d.ways, w)
		}
	}
}

// way asks what one sender needs.
func (d *draft) way(t *dialog, w *way, file string) error {
	usual := w.kind
	for n := 2; d.named(usual); n++ {
		usual = fmt.Sprintf("%s-%d", w.kind, n)
	}
	var err error
	ask := func(question string) string {
		if err != nil {
			return ""
		}
		var answer string
		answer, err = t.Ask("  " + question)
		return answer
	}
	for {
		if w.name, err = t.called("  a name for it", usual, "sender"); err != nil {
			return err
		}
		switch {
		case strings.ContainsRune(w.name, filepath.Separator): // its secret's file would be elsewhere
			t.Say("  %q has a %c in it; the name is part of a file's name.", w.name, filepath.Separator)
			continue
		case d.named(w.name):
			t.Say("  %q is another's name already.", w.name)
			continue
		}
		break
	}
	secret := func(key, what string) {
		if err == nil {
			err = w.hide(t, key, what, file)
		}
	}
	switch w.kind {
	case "email":
		server := ask("the mail server, as smtp.example.org or with :port")
		host, port, bad := net.SplitHostPort(server)
		if bad != nil {
			host, port = server, "587"
		}
		w.set("host", host)
		w.lines = append(w.lines, "port = "+port)
		if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
			w.set("tls", "none")
		} else if port == "465" {
			w.set("tls", "tls")
		}
		var to []string
		for _, one := range strings.FieldsFunc(ask("to whom, as keeper@example.org (several: with commas)"), func(r rune) bool { return r == ',' || r == ' ' }) {
			to = append(to, config.Quote(one))
		}
		w.lines = append(w.lines, "to = ["+strings.Join(to, ", ")+"]")
		if user := ask("the server's user (Enter: it asks for none)"); user != "" {
			w.set("user", user)
			secret("password_file", "the password")
		}
	case "webhook":
		w.set("url", ask("the address to post to, as https://hooks.example.org/x"))
		yes := false
		if err == nil {
			yes, err = t.Yes("  Does it want each message signed with a secret")
		}
		if yes {
			secret("secret_file", "the secret")
		}
	case "mqtt":
		w.set("url", ask("the broker, as mqtt://127.0.0.1:1883 or mqtts://host:8883"))
		if user := ask("its user (Enter: it asks for none)"); user != "" {
			w.set("user", user)
			secret("password_file", "the password")
		}
	case "alertmanager":
		w.set("url", ask("its address, as http://127.0.0.1:9093"))
	default:
		w.set("output", ask("the output of the board it is wired to, as GPIO17 (3.3 V and a few mA, never mains)"))
	}
	if err == nil && len(d.ways) > 0 && w.carries() {
		var late bool
		if late, err = t.Yes("  Only when nobody has said for 15 min that they saw a critical alarm: a neighbour"); late {
			w.set("after", "15m")
		}
	}
	return err
}

// carries reports whether the way carries words to somebody.
func (w *way) carries() bool { return w.kind == "email" || w.kind == "webhook" || w.kind == "mqtt" }

func (d *draft) named(name string) bool {
	return slices.ContainsFunc(d.ways, func(w way) bool { return w.name == name })
}

// hide asks for a secret, which goes to a file that its owner alone may read. A
// file that is there already stays as it is and is taken for it.
func (w *way) hide(t *dialog, key, what, config string) error {
	path, err := filepath.Abs(filepath.Join(filepath.Dir(config), w.name+"."+strings.TrimSuffix(key, "_file")))
	if err != nil {
		return err
	}
	w.file = path
	w.set(key, path)
	if there, err := os.ReadFile(path); err == nil && len(bytes.TrimSpace(there)) == 0 {
		w.empty = true // a setup that was cut off left it
	} else if !errors.Is(err, os.ErrNotExist) {
		t.Say("  %s is there already and stays as it is; it is taken for %s.", path, what)
		return nil
	}
	for w.secret == "" {
		if w.secret, err = t.Secret("  " + what + " (it goes to " + path + ", readable by its owner alone)"); err != nil {
			return err
		}
	}
	return nil
}

// wrong tells what is wrong with a part of a configuration, by what the reader of
// configurations says of it; of one key alone, where one is named. Nothing else of the
// file is there yet.
func (t *dialog) wrong(text, section string, only ...string) bool {
	_, err := config.Parse("", []byte(text), probeconfig.Drivers())
	var faults config.Faults
	bad := err != nil && !errors.As(err, &faults)
	if bad {
		t.Say("  %v.", err)
	}
	for _, f := range faults {
		key, ours := strings.CutPrefix(f.Key, section+".")
		if ours && (len(only) == 0 || slices.Contains(only, key)) || f.Key == "" {
			t.Say("  That cannot be: %s.", strings.TrimSpace(key+" "+f.Why))
			bad = true
		}
	}
	return bad
}

// fit asks for a value of [station], until it is one or none.
func (t *dialog) fit(question, key string) (string, error) {
	for {
		answer, err := t.Ask(question)
		if err != nil || answer == "" || !t.wrong("[station]\n"+key+" = "+config.Quote(answer)+"\n", "station") {
			return answer, err
		}
	}
}

// tryMessages offers to send a message by each sender. One that does not go out is
// told, and is the error in the end.
func tryMessages(ctx context.Context, c config.Config, o Options, t *dialog) error {
	if len(c.Senders) == 0 {
		return nil
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	ways, err := senders.Routes(c, plan, o.Now)
	if err != nil {
		return err
	}
	var failed []string
	for _, w := range ways {
		ok, err := t.Yes("Send a test message by " + w.Name + " now")
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		if err := senders.SendTest(ctx, o.Out, o.Config, w.Name, o.Now); err != nil {
			t.Say("It did not go out: %v.", err)
			t.Say("Mend what it names, then: ootherm check --config %s --send %q", o.Config, w.Name)
			failed = append(failed, w.Name)
		}
	}
	if len(failed) > 0 {
		return usererr.New(fmt.Sprintf("%s is written, but no test message went out by %s", o.Config, words.List(failed)))
	}
	return nil
}
