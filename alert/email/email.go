// Package email delivers messages by SMTP.
package email

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	netmail "net/mail"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/wneessen/go-mail"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/trust"
)

// Security is how the connection is kept from prying.
type Security string

// Securities. Without one, port 465 is TLS, loopback is None, and all else is
// StartTLS. None is refused unless the host is this machine.
const (
	StartTLS Security = "starttls" // RFC 3207; a server that does not offer it gets nothing
	TLS      Security = "tls"      // from the first byte, RFC 8314
	None     Security = "none"
)

// Config says where mail goes.
type Config struct {
	Host         string
	Port         int // 0 is 587, or 465 with TLS
	Security     Security
	User         string
	PasswordFile string // read at each attempt; its text is never in an error. Empty: no login
	From         string // empty: User when it is an address, else the first of To
	To           []string
	Station      string // told apart by it are two stations that write to one mailbox
	CAFile       string // certificates (PEM) that vouch for the server, read at each attempt; empty: the system's
	Now          func() time.Time

	// Dial connects to the server, and limits the length of its replies.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)

	// Attachment gives what is in the file that a message names in Attach; nil: no
	// file goes with any.
	Attachment func(alert.Message) ([]byte, error)
}

// stepLimit bounds each exchange with the server; the context bounds them all.
const stepLimit = 30 * time.Second

// Sender delivers messages by SMTP, to each recipient by itself, so that one bad
// address costs the others nothing.
type Sender struct {
	c    Config
	from string

	mu   sync.Mutex
	done map[string]bool // recipients that have the message, while others do not yet
	of   string          // that message
}

var _ alert.Sender = (*Sender)(nil)

// New checks the configuration; it connects to nothing and opens no file.
func New(c Config) (*Sender, error) {
	var wrong []error
	complain := func(format string, args ...any) { wrong = append(wrong, fmt.Errorf(format, args...)) }
	if c.Host == "" {
		complain("no host: name the mail server")
	}
	c = c.withDefaults()
	switch c.Security {
	case StartTLS, TLS:
	case None:
		if !loopback(c.Host) {
			complain("security %q to %s would show mail and password to all on the way: use starttls or tls", c.Security, c.Host)
		}
	default:
		complain("security %q is none of starttls, tls, none", c.Security)
	}
	if c.Port < 1 || c.Port > 65535 {
		complain("port %d is none", c.Port)
	}
	if c.PasswordFile != "" && c.User == "" {
		complain("a password file and no user: name the user")
	}
	if len(c.To) == 0 {
		complain("no recipient: name one in to")
	}
	from := c.From
	if from == "" && strings.Contains(c.User, "@") {
		from = c.User
	}
	if from == "" && len(c.To) > 0 {
		from = c.To[0]
	}
	for _, a := range append([]string{from}, c.To...) {
		if _, err := netmail.ParseAddress(a); err != nil && len(c.To) > 0 {
			complain("%q is no mail address: %w", a, err)
		}
	}
	if c.Now == nil {
		complain("no clock")
	}
	if c.Dial == nil {
		complain("no dialer")
	}
	if len(wrong) > 0 {
		return nil, errors.Join(wrong...)
	}
	return &Sender{c: c, from: from}, nil
}

// withDefaults fills in the security and the port: 465 is that of TLS, 587 that of STARTTLS
// (RFC 8314, RFC 6409).
func (c Config) withDefaults() Config {
	if c.Security == "" {
		switch {
		case c.Port == 465:
			c.Security = TLS
		case loopback(c.Host):
			c.Security = None
		default:
			c.Security = StartTLS
		}
	}
	if c.Port == 0 {
		c.Port = 587
		if c.Security == TLS {
			c.Port = 465
		}
	}
	return c
}

// loopback reports whether a host is this machine, by its name or address alone.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Send delivers to every recipient that does not have the message yet. A server's
// final refusal (5xx, RFC 5321 section 4.2.1) of a message or an address is
// [alert.ErrPermanent] when nothing else is left to try; a refused login is not,
// for it says nothing of the message.
func (s *Sender) Send(ctx context.Context, m alert.Message) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.of != m.ID {
		s.of, s.done = m.ID, map[string]bool{}
	}
	var file []byte
	if m.Attach != "" && s.c.Attachment != nil {
		var err error
		if file, err = s.c.Attachment(m); err != nil {
			return fmt.Errorf("the file %s: %w", m.Attach, err)
		}
	}
	roots, err := trust.Roots(s.c.CAFile)
	if err != nil {
		return err
	}
	secure := &tls.Config{ServerName: s.c.Host, RootCAs: roots, MinVersion: tls.VersionTLS12}
	client, err := s.client(secure)
	if err != nil {
		return err
	}
	// The library knows deadlines and not contexts, once it is connected: the end of
	// this one cuts the wire.
	bound, cut := context.WithCancel(ctx)
	defer cut()
	if err := mail.WithDialContextFunc(s.dial(bound, secure))(client); err != nil {
		return fmt.Errorf("setting up the connection: %w", err)
	}
	if err := client.DialWithContext(ctx); err != nil {
		return s.failed(ctx, "connecting to", err)
	}
	var temporary, final []error
	for _, to := range s.c.To {
		if s.done[to] {
			continue
		}
		switch err := s.one(client, m, file, to); {
		case err == nil:
			s.done[to] = true
		case refused(err):
			final = append(final, s.failed(ctx, "mail to "+to+" at", err))
		default:
			temporary = append(temporary, s.failed(ctx, "mail to "+to+" at", err))
		}
	}
	// What was accepted is delivered, however the farewell goes.
	_ = client.Close()
	switch {
	case len(temporary) > 0:
		return errors.Join(append(temporary, final...)...)
	case len(final) > 0:
		return alert.Permanent(errors.Join(final...))
	}
	s.of = ""
	return nil
}

func (s *Sender) client(secure *tls.Config) (*mail.Client, error) {
	options := []mail.Option{
		mail.WithPort(s.c.Port),
		mail.WithTimeout(stepLimit),
		mail.WithTLSConfig(secure),
		mail.WithoutNoop(),
	}
	if s.c.Security == StartTLS {
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory))
	} else {
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
	}
	if s.c.PasswordFile != "" {
		password, err := os.ReadFile(s.c.PasswordFile)
		if err != nil {
			return nil, fmt.Errorf("reading the password: %w", err)
		}
		options = append(options, mail.WithUsername(s.c.User),
			mail.WithPassword(strings.TrimRight(string(password), "\r\n")),
			mail.WithOpportunisticSMTPAuth(mail.SMTPAuthSCRAMSHA256, mail.SMTPAuthSCRAMSHA1,
				mail.SMTPAuthCramMD5, mail.SMTPAuthPlain, mail.SMTPAuthLogin))
	}
	client, err := mail.NewClient(s.c.Host, options...)
	if err != nil {
		return nil, fmt.Errorf("setting up mail by %s: %w", s.c.Host, err)
	}
	return client, nil
}

// dial connects, by TLS where the first byte is TLS. The connection lives no
// longer than the context.
func (s *Sender) dial(bound context.Context, secure *tls.Config) mail.DialContextFunc {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		conn, err := s.c.Dial(ctx, network, address)
		if err != nil {
			return nil, err
		}
		if s.c.Security == TLS {
			secured := tls.Client(conn, secure)
			if err := secured.HandshakeContext(ctx); err != nil {
				return nil, errors.Join(err, conn.Close())
			}
			conn = secured
		}
		context.AfterFunc(bound, func() { _ = conn.Close() }) // a second time it does nothing
		return conn, nil
	}
}

func (s *Sender) one(client *mail.Client, m alert.Message, file []byte, to string) error {
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent()) // it would be in two headers
	if err := msg.From(s.from); err != nil {
		return err
	}
	if err := msg.To(to); err != nil {
		return err
	}
	msg.Subject(line(m.Stemmed()))
	msg.SetDateWithValue(s.c.Now())
	msg.SetMessageIDWithValue(s.identity(m))
	s.thread(msg, m.Threads)
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no holiday notes back
	if m.Priority == alert.Critical {
		msg.SetGenHeader(mail.HeaderImportance, "high")
		msg.SetGenHeader(mail.HeaderPriority, "urgent") // RFC 2156, as is the line before
		msg.SetGenHeader(mail.HeaderXPriority, "1")     // common practice: what older mail programs mark as urgent
	}
	msg.SetBodyString(mail.TypeTextPlain, m.Body)
	if file != nil {
		// Base64, so that the bytes arrive as they are.
		if err := msg.AttachReader(line(m.Attach), bytes.NewReader(file), mail.WithFileContentType(mail.TypeAppOctetStream)); err != nil {
			return err
		}
	}
	err := client.Send(msg)
	if msg.IsDelivered() { // it was accepted, and only what came after failed
		return nil
	}
	return err
}

// identity is the Message-ID: the same for the same message, and another for
// every other of any station that ever wrote to this mailbox.
func (s *Sender) identity(m alert.Message) string {
	return s.messageID(m.ID, m.At.UTC().Format(time.RFC3339Nano))
}

// messageID is a Message-ID made from what names a message or an episode.
func (s *Sender) messageID(name, more string) string {
	sum := sha256.Sum256([]byte(s.c.Station + "\x00" + name + "\x00" + more))
	_, domain, _ := strings.Cut(s.from, "@")
	return hex.EncodeToString(sum[:16]) + "@" + strings.TrimRight(domain, ">")
}

// thread has mail programs group the messages of an episode: each replies to the first, whose
// Message-ID is made from the episode's identity. That one is never sent, since a recipient
// who gets critical messages alone has another first message than one who gets all. A
// message of several episodes replies to all of them, and is shown in the first: a References
// field of several parents is discouraged (RFC 5322 section 3.6.4).
func (s *Sender) thread(msg *mail.Msg, threads []alert.Thread) {
	if len(threads) == 0 {
		return
	}
	var parents []string
	for _, t := range threads {
		parents = append(parents, "<"+s.messageID("episode", t.ID)+">")
	}
	msg.SetGenHeader(mail.HeaderInReplyTo, strings.Join(parents, " "))
	msg.SetGenHeader(mail.HeaderReferences, parents[0])
}

// line keeps a subject from becoming two headers.
func line(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s))
}

// refused reports whether the server will never take it.
func refused(err error) bool {
	var e *mail.SendError
	return errors.As(err, &e) && e.ErrorCode() >= 500 && e.ErrorCode() <= 599
}

func (s *Sender) failed(ctx context.Context, what string, err error) error {
	if cause := ctx.Err(); cause != nil {
		err = errors.Join(cause, err)
	}
	return fmt.Errorf("%s %s: %w", what, net.JoinHostPort(s.c.Host, strconv.Itoa(s.c.Port)), err)
}
