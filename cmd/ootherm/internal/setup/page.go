package setup

import (
	"cmp"
	"net"
	"os"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/qr"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// pagePort is the default port of the page.
const pagePort = "8080"

// askPage asks whether other machines may see the page, and for its address and
// passphrase.
func (w *wizard) askPage(t *dialog, o Options) error {
	w.listen = net.JoinHostPort("127.0.0.1", pagePort)
	t.Say("The page shows on this machine alone. A phone at home can see it too, and note in the")
	t.Say("book, once it has been given a passphrase.")
	open, err := t.Yes("Open the page to the home network")
	if err != nil || !open {
		return err
	}
	w.listen = net.JoinHostPort("0.0.0.0", pagePort)
	find := networkNames
	if o.networkNames != nil {
		find = o.networkNames
	}
	name, hosts := find()
	usual := ""
	if len(hosts) > 0 {
		usual = hosts[0]
	}
	if name != "" {
		usual = name + ".local"
	}
	usual = "http://" + net.JoinHostPort(cmp.Or(usual, "eggroom.local"), pagePort)
	for _, h := range hosts {
		w.addresses = append(w.addresses, "http://"+net.JoinHostPort(h, pagePort))
	}
	for {
		if w.url, err = t.askOr("The address that phones should use, in messages and on labels", usual); err != nil {
			return err
		}
		if !t.hasFault("[station]\nurl = "+config.Quote(w.url)+"\n", "station") {
			break
		}
	}
	exists, err := passphrase.FileIn(w.data).IsSet()
	if err != nil {
		return err
	}
	if exists {
		t.Say("A passphrase is set already and stays; ootherm passphrase sets another.")
		return nil
	}
	return w.choosePassphrase(t)
}

// choosePassphrase asks for a passphrase twice, until both are the same and long enough.
func (w *wizard) choosePassphrase(t *dialog) error {
	for {
		first, err := t.Secret("A passphrase, such as four words")
		if err != nil {
			return err
		}
		if err := passphrase.Validate(first); err != nil {
			if message, ok := usererr.Message(err); ok {
				t.Say("%s.", words.Capital(message))
			}
			continue
		}
		again, err := t.Secret("Once more")
		if err != nil {
			return err
		}
		if first == again {
			w.passphrase = first
			return nil
		}
		t.Say("The two are not the same.")
	}
}

// showAddress shows the page's address, as text and as a code for a phone's camera.
func (w *wizard) showAddress(t *dialog) error {
	if w.url == "" {
		t.Say("Then the page is at http://%s, on this machine.", w.listen)
		return nil
	}
	code, err := qr.Encode(w.url)
	if err != nil {
		return err
	}
	t.Say("Then the page is at %s; point a phone's camera here:", w.url)
	t.Say("%s", strings.TrimSuffix(code.Terminal(), "\n"))
	if len(w.addresses) > 0 {
		t.Say("If a phone does not find that name: %s", strings.Join(w.addresses, " or "))
	}
	return nil
}

// networkNames gives the names by which other machines find this one: its host name and
// its IPv4 addresses. It leaves IPv6 out, because home routers change those addresses.
func networkNames() (name string, addresses []string) {
	name, err := os.Hostname()
	if err != nil {
		name = ""
	}
	return name, daemon.NetworkAddresses()
}
