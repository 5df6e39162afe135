package email_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"errors"
	"io"
	"math/big"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// sink is a mail server that keeps what it is given, and misbehaves as told.
type sink struct {
	mu      sync.Mutex
	mails   []string
	to      []string
	logins  []string
	rcpt    map[string]error // an address and the answer to it
	data    error            // the answer to every mail
	drop    bool             // hang up after the mail has come, without an answer
	asked   chan struct{}    // closed when a mail has come, to a slow one
	release chan struct{}    // a slow one answers when it is closed
	secure  bool             // logins without TLS are an error
}

type session struct {
	s    *sink
	conn *smtp.Conn
	to   string
}

func (s *sink) NewSession(c *smtp.Conn) (smtp.Session, error) { return &session{s: s, conn: c}, nil }

func (e *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (e *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		e.s.mu.Lock()
		defer e.s.mu.Unlock()
		if _, encrypted := e.conn.TLSConnectionState(); e.s.secure && !encrypted {
			return errors.New("a password in the clear")
		}
		e.s.logins = append(e.s.logins, user+"/"+password)
		if password != "correct horse" {
			return smtp.ErrAuthFailed
		}
		return nil
	}), nil
}

func (e *session) Reset()                               {}
func (e *session) Logout() error                        { return nil }
func (e *session) Mail(string, *smtp.MailOptions) error { return nil }
func (e *session) Rcpt(a string, _ *smtp.RcptOptions) error {
	e.s.mu.Lock()
	defer e.s.mu.Unlock()
	e.to = a
	return e.s.rcpt[a]
}

func (e *session) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if e.s.asked != nil {
		close(e.s.asked)
		<-e.s.release
	}
	e.s.mu.Lock()
	defer e.s.mu.Unlock()
	if e.s.drop {
		e.s.mails, e.s.to = append(e.s.mails, string(b)), append(e.s.to, e.to)
		return e.conn.Conn().Close()
	}
	if e.s.data == nil {
		e.s.mails, e.s.to = append(e.s.mails, string(b)), append(e.s.to, e.to)
	}
	return e.s.data
}

// received is the mails that came, and for whom.
func (s *sink) received() (mails, to []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.mails), slices.Clone(s.to)
}

// serve starts a sink on loopback: plain, offering STARTTLS, or all TLS.
func serve(t *testing.T, s *sink, mode string) (port int, caFile string) {
	t.Helper()
	srv := smtp.NewServer(s)
	srv.Domain = "localhost"
	srv.AllowInsecureAuth = mode == "none"
	srv.ErrorLog = quiet{}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port = l.Addr().(*net.TCPAddr).Port
	if mode != "none" {
		var config *tls.Config
		config, caFile = certificate(t)
		srv.TLSConfig = config
		if mode == "tls" {
			l = tls.NewListener(l, config)
		}
	}
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	t.Cleanup(func() {
		if err := srv.Close(); err != nil {
			t.Error(err)
		}
		if err := <-done; err != nil && !errors.Is(err, smtp.ErrServerClosed) {
			t.Error(err)
		}
	})
	return port, caFile
}

// quiet drops the server's log: its faults are the point.
type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

// certificate is a new one for this machine, and the pool that trusts it.
func certificate(t *testing.T) (config *tls.Config, caFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	caFile = filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(caFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, caFile
}

// soon is a context that ends when the channel is closed.
func soon(t *testing.T, asked <-chan struct{}) context.Context {
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-asked; cancel() }()
	return ctx
}

// decoded reads a body past its transfer encoding.
func decoded(t *testing.T, m *netmail.Message) io.Reader {
	t.Helper()
	switch e := m.Header.Get("Content-Transfer-Encoding"); e {
	case "quoted-printable":
		return quotedprintable.NewReader(m.Body)
	case "base64":
		return base64.NewDecoder(base64.StdEncoding, m.Body)
	case "8bit", "7bit", "":
		return m.Body
	default:
		t.Fatalf("transfer encoding %q", e)
		return nil
	}
}
