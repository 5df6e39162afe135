package senders

import (
	"context"
	"errors"
	"net"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/email"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
)

// A mail server without an address is named, with the key to change. Another failure keeps
// its own words.
func TestHostThatIsNotFound(t *testing.T) {
	t.Setenv(configpath.Variable, "/etc/ootherm/ootherm.toml")
	c := config.Config{Senders: []config.Sender{{Name: "email", Kind: "email"}, {Name: "hook", Kind: "webhook"}}}
	send := func(failure error) error {
		s, err := email.New(email.Config{Host: "me", Port: 587, Security: email.StartTLS, To: []string{"keeper@example.org"}, Station: "room", Now: time.Now,
			Dial: func(context.Context, string, string) (net.Conn, error) { return nil, failure }})
		if err != nil {
			t.Fatal(err)
		}
		return s.Send(t.Context(), alert.Message{ID: "test/1", At: time.Now(), Priority: alert.Warning, Subject: "x", Body: "x\n"})
	}
	gone := send(&net.OpError{Op: "dial", Err: &net.DNSError{Err: "no such host", Name: "me", IsNotFound: true}})
	for name, want := range map[string]string{
		"email": "the mail server me was not found. Change host in /etc/ootherm/ootherm.toml, then: ootherm check --send email",
		"hook":  "the host me was not found. Change url in /etc/ootherm/ootherm.toml, then: ootherm check --send hook",
	} {
		got := hostNotFound(gone, c, "/etc/ootherm/ootherm.toml", name)
		if got == nil || got.Error() != want || !errors.Is(got, gone) {
			t.Errorf("%s: %v, want %q", name, got, want)
		}
	}
	if got := hostNotFound(send(errors.New("connection refused")), c, "/etc/ootherm/ootherm.toml", "email"); got != nil {
		t.Errorf("a server that refuses: %v", got)
	}
}
