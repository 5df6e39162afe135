package email_test

import (
	"context"
	"errors"
	"io"
	"mime"
	"net"
	netmail "net/mail"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/email"
)

var at = time.Date(2026, 4, 2, 18, 7, 0, 0, time.UTC)

var hot = alert.Message{ID: "temperature-high.critical/egg room/7", Alarm: "temperature-high.critical/egg room", At: at,
	Priority: alert.Critical, Subject: "▲ ROOM too warm: 78.4 °F (limit 76.0)",
	Body: "Since 14:07 (22 min). Peak 78.6 °F.\n.\nFirst: see that the heater is off.\n"}

func config(port int) email.Config {
	return email.Config{Host: "127.0.0.1", Port: port, To: []string{"keeper@example.org"}, Station: "egg room",
		Now: func() time.Time { return at.Add(time.Minute) }, Dial: new(net.Dialer).DialContext}
}

func sender(t *testing.T, c email.Config) *email.Sender {
	t.Helper()
	s, err := email.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestWhatArrives(t *testing.T) {
	for _, mode := range []email.Security{email.None, email.StartTLS, email.TLS} {
		t.Run(string(mode), func(t *testing.T) {
			k := &sink{secure: mode != email.None}
			port, caFile := serve(t, k, string(mode))
			file := filepath.Join(t.TempDir(), "password")
			if err := os.WriteFile(file, []byte("correct horse\n"), 0o600); err != nil {
				t.Fatal(err)
			}
			c := config(port)
			c.Security, c.CAFile, c.User, c.PasswordFile, c.From = mode, caFile, "keeper", file, "Egg room <station@example.org>"
			s := sender(t, c)
			for range 2 {
				if err := s.Send(t.Context(), hot); err != nil {
					t.Fatal(err)
				}
			}
			other := hot
			other.ID = "temperature-high.critical/egg room/8"
			other.Subject = "back in band 15:02\r\nBcc: somebody@example.org"
			if err := s.Send(t.Context(), other); err != nil {
				t.Fatal(err)
			}
			mails, _ := k.received()
			if len(mails) != 3 || len(k.logins) != 3 || k.logins[0] != "keeper/correct horse" {
				t.Fatalf("%d mails, logins %q", len(mails), k.logins)
			}
			var ids []string
			for i, raw := range mails {
				m, err := netmail.ReadMessage(strings.NewReader(raw))
				if err != nil {
					t.Fatal(err)
				}
				body, err := io.ReadAll(decoded(t, m))
				if err != nil {
					t.Fatal(err)
				}
				if got := strings.ReplaceAll(string(body), "\r\n", "\n"); strings.TrimSpace(got) != strings.TrimSpace(hot.Body) {
					t.Errorf("mail %d: body %q", i, got)
				}
				subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
				if err != nil {
					t.Fatal(err)
				}
				want := hot.Subject
				if i == 2 {
					want = "back in band 15:02  Bcc: somebody@example.org"
				}
				if subject != want || m.Header.Get("Bcc") != "" {
					t.Errorf("mail %d: subject %q", i, subject)
				}
				if date, err := m.Header.Date(); err != nil || !date.Equal(at.Add(time.Minute)) {
					t.Errorf("mail %d: date %v, %v", i, date, err)
				}
				if a, err := m.Header.AddressList("From"); err != nil || a[0].Address != "station@example.org" {
					t.Errorf("mail %d: from %v, %v", i, a, err)
				}
				if m.Header.Get("Auto-Submitted") != "auto-generated" {
					t.Errorf("mail %d would be answered by a machine", i)
				}
				for header, want := range map[string]string{"Importance": "high", "Priority": "urgent", "X-Priority": "1", "User-Agent": "", "X-Mailer": ""} {
					if got := m.Header.Get(header); got != want {
						t.Errorf("mail %d: %s is %q, want %q", i, header, got, want)
					}
				}
				if !strings.Contains(raw, "\r\nSubject: =?") && !strings.Contains(raw, "\r\nSubject: back") {
					t.Errorf("mail %d: its subject does not begin on its first line:\n%s", i, raw)
				}
				kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
				if err != nil || kind != "text/plain" || !strings.EqualFold(params["charset"], "utf-8") {
					t.Errorf("mail %d: %s %v %v", i, kind, params, err)
				}
				ids = append(ids, m.Header.Get("Message-ID"))
			}
			if ids[0] != ids[1] || ids[1] == ids[2] || !strings.HasSuffix(ids[0], "@example.org>") {
				t.Errorf("identities %q: the first two are one message, the third another", ids)
			}
			c.Station = "other room"
			if err := sender(t, c).Send(t.Context(), hot); err != nil {
				t.Fatal(err)
			}
			mails, _ = k.received()
			if m, err := netmail.ReadMessage(strings.NewReader(mails[3])); err != nil || m.Header.Get("Message-ID") == ids[0] {
				t.Errorf("two stations write under one identity (%v)", err)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	no := &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such mailbox"}
	busy := &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 7, 1}, Message: "try again later"}
	for _, c := range []struct {
		name  string
		sink  *sink
		final bool
		says  string
	}{
		{"the address is refused", &sink{rcpt: map[string]error{"keeper@example.org": no}}, true, "550"},
		{"the mail is refused", &sink{data: no}, true, "no such mailbox"},
		{"the address is put off", &sink{rcpt: map[string]error{"keeper@example.org": busy}}, false, "451"},
		{"the mail is put off", &sink{data: busy}, false, "try again later"},
		{"hung up after the mail", &sink{drop: true}, false, "127.0.0.1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			port, _ := serve(t, c.sink, "none")
			err := sender(t, config(port)).Send(t.Context(), hot)
			if err == nil || errors.Is(err, alert.ErrPermanent) != c.final || !strings.Contains(err.Error(), c.says) {
				t.Errorf("permanent %v: %v", errors.Is(err, alert.ErrPermanent), err)
			}
			if mails, _ := c.sink.received(); c.sink.drop && len(mails) != 1 {
				t.Errorf("%d mails before it hung up", len(mails))
			}
		})
	}
}

func TestOneBadAddressOfThree(t *testing.T) {
	k := &sink{rcpt: map[string]error{"b@example.org": &smtp.SMTPError{Code: 550, Message: "no such mailbox"},
		"c@example.org": &smtp.SMTPError{Code: 451, Message: "try again later"}}}
	port, _ := serve(t, k, "none")
	c := config(port)
	c.To = []string{"a@example.org", "b@example.org", "c@example.org", "d@example.org"}
	s := sender(t, c)
	if err := s.Send(t.Context(), hot); err == nil || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("while one is put off: %v", err)
	}
	k.mu.Lock()
	delete(k.rcpt, "c@example.org")
	k.mu.Unlock()
	err := s.Send(t.Context(), hot)
	if !errors.Is(err, alert.ErrPermanent) || !strings.Contains(err.Error(), "b@example.org") {
		t.Errorf("when one is refused for good and the others have it: %v", err)
	}
	_, to := k.received()
	if got := strings.Join(to, " "); got != "a@example.org d@example.org c@example.org" {
		t.Errorf("delivered to %s: each once", got)
	}
}

func TestASlowServerIsLeft(t *testing.T) {
	k := &sink{asked: make(chan struct{}), release: make(chan struct{})}
	port, _ := serve(t, k, "none")
	defer close(k.release)
	err := sender(t, config(port)).Send(soon(t, k.asked), hot)
	if !errors.Is(err, context.Canceled) || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("%v", err)
	}
}

func TestAServerThatNeverGreetsIsLeft(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	came := make(chan struct{})
	go func() {
		c, err := l.Accept()
		if err != nil {
			t.Error(err)
			return
		}
		close(came)
		_, _ = io.Copy(io.Discard, c) // until it hangs up
		_ = c.Close()
	}()
	err = sender(t, config(l.Addr().(*net.TCPAddr).Port)).Send(soon(t, came), hot)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func TestNoServer(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	err = sender(t, config(port)).Send(t.Context(), hot)
	if err == nil || errors.Is(err, alert.ErrPermanent) || !strings.Contains(err.Error(), "127.0.0.1") {
		t.Errorf("%v", err)
	}
}

func TestPasswordsStaySecret(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "password")
	if err := os.WriteFile(file, []byte("wrong battery\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	k := &sink{}
	port, _ := serve(t, k, "none")
	c := config(port)
	c.User, c.PasswordFile = "keeper", file
	s := sender(t, c)
	err := s.Send(t.Context(), hot)
	if err == nil || errors.Is(err, alert.ErrPermanent) || strings.Contains(err.Error(), "battery") {
		t.Errorf("a wrong password: %v", err)
	}
	// Put right without a restart.
	if err := os.WriteFile(file, []byte("correct horse"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := s.Send(t.Context(), hot); err != nil {
		t.Errorf("the password was put right: %v", err)
	}
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	if err := s.Send(t.Context(), hot); !errors.Is(err, os.ErrNotExist) || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("no password file: %v", err)
	}
}

func TestStrangersAndStripping(t *testing.T) {
	// A server whose certificate is not trusted, and one that offers no TLS.
	for _, mode := range []email.Security{email.TLS, email.StartTLS} {
		k := &sink{}
		port, _ := serve(t, k, string(mode))
		c := config(port)
		c.Security = mode
		if err := sender(t, c).Send(t.Context(), hot); err == nil {
			t.Errorf("%s: an unknown certificate was taken", mode)
		}
	}
	k := &sink{}
	port, _ := serve(t, k, "none")
	c := config(port)
	c.Security = email.StartTLS
	err := sender(t, c).Send(t.Context(), hot)
	if mails, _ := k.received(); err == nil || len(mails) != 0 {
		t.Errorf("sent in the clear: %v", err)
	}
}

func TestConfiguration(t *testing.T) {
	for name, change := range map[string]func(*email.Config){
		"no host":                   func(c *email.Config) { c.Host = "" },
		"port":                      func(c *email.Config) { c.Port = 70000 },
		"security":                  func(c *email.Config) { c.Security = "ssl" },
		"would show":                func(c *email.Config) { c.Host, c.Security = "smtp.example.org", email.None },
		"no recipient":              func(c *email.Config) { c.To = nil },
		`"keeper" is no mail`:       func(c *email.Config) { c.To = []string{"keeper"} },
		"name the user":             func(c *email.Config) { c.PasswordFile = "x" },
		`"station@" is no mail add`: func(c *email.Config) { c.From = "station@" },
		"no clock":                  func(c *email.Config) { c.Now = nil },
		"no dialer":                 func(c *email.Config) { c.Dial = nil },
	} {
		c := config(25)
		change(&c)
		if _, err := email.New(c); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
