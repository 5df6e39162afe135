package setup

import (
	"cmp"
	"net"
	"os"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/qr"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// port is the page's, unless the breeder's file says otherwise.
const port = "8080"

// page asks whether other machines shall see the page, and by which passphrase.
func (d *draft) page(t *dialog, o Options) error {
	d.listen = net.JoinHostPort("127.0.0.1", port)
	t.Say("The page shows on this machine alone. A phone at home can see it too, and note in the")
	t.Say("book, once it was given a passphrase.")
	open, err := t.Yes("Open the page to the home network")
	if err != nil || !open {
		return err
	}
	d.listen = net.JoinHostPort("0.0.0.0", port)
	reach := reachable
	if o.reach != nil {
		reach = o.reach
	}
	name, hosts := reach()
	usual := ""
	if len(hosts) > 0 {
		usual = hosts[0]
	}
	if name != "" {
		usual = name + ".local"
	}
	usual = "http://" + net.JoinHostPort(cmp.Or(usual, "eggroom.local"), port)
	for _, h := range hosts {
		d.addresses = append(d.addresses, "http://"+net.JoinHostPort(h, port))
	}
	for {
		if d.url, err = t.or("The address that phones shall use, in messages and on labels", usual); err != nil {
			return err
		}
		if !t.wrong("[station]\nurl = "+config.Quote(d.url)+"\n", "station") {
			break
		}
	}
	there, err := passphrase.In(d.data).There()
	if err != nil {
		return err
	}
	if there {
		t.Say("A passphrase is set already and stays; ootherm passphrase sets another.")
		return nil
	}
	return d.choosePassphrase(t)
}

// choosePassphrase asks twice, until both are the same and fit.
func (d *draft) choosePassphrase(t *dialog) error {
	for {
		first, err := t.Secret("A passphrase, such as four words")
		if err != nil {
			return err
		}
		if err := passphrase.Fit(first); err != nil {
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
			d.passphrase = first
			return nil
		}
		t.Say("The two are not the same.")
	}
}

// door tells where the page is, as a code for a phone's camera too.
func (d *draft) door(t *dialog) error {
	if d.url == "" {
		t.Say("Then the page is at http://%s, on this machine.", d.listen)
		return nil
	}
	code, err := qr.Encode(d.url)
	if err != nil {
		return err
	}
	t.Say("Then the page is at %s; point a phone's camera here:", d.url)
	t.Say("%s", strings.TrimSuffix(code.Terminal(), "\n"))
	if len(d.addresses) > 0 {
		t.Say("If a phone does not find that name: %s", strings.Join(d.addresses, " or "))
	}
	return nil
}

// reachable is how other machines find this one: its name, and its addresses in
// the networks it is in. IPv6 is left out: homes hand its addresses on anew.
func reachable() (name string, addresses []string) {
	name, err := os.Hostname()
	if err != nil {
		name = ""
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return name, nil
	}
	for _, a := range all {
		if ip, ok := a.(*net.IPNet); ok && ip.IP.To4() != nil && ip.IP.IsGlobalUnicast() {
			addresses = append(addresses, ip.IP.String())
		}
	}
	return name, addresses
}
