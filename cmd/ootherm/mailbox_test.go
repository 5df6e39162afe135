package main

import (
	"bytes"
	"io"
	"log"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"strings"
	"sync"
	"testing"

	"github.com/emersion/go-smtp"
)

// mailbox is a mail server that keeps what it is given.
type mailbox struct {
	mu    sync.Mutex
	mails []*netmail.Message
	raw   []string // bodies as they came
	texts []string // and past their transfer encoding
}

func (m *mailbox) NewSession(*smtp.Conn) (smtp.Session, error) { return session{m}, nil }

type session struct{ m *mailbox }

func (session) Reset()                               {}
func (session) Logout() error                        { return nil }
func (session) Mail(string, *smtp.MailOptions) error { return nil }
func (session) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (s session) Data(r io.Reader) error {
	mail, err := netmail.ReadMessage(r)
	if err != nil {
		return err
	}
	raw, err := io.ReadAll(mail.Body)
	if err != nil {
		return err
	}
	text := raw
	if mail.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
		if text, err = io.ReadAll(quotedprintable.NewReader(bytes.NewReader(raw))); err != nil {
			return err
		}
	}
	s.m.mu.Lock()
	defer s.m.mu.Unlock()
	s.m.mails = append(s.m.mails, mail)
	s.m.raw = append(s.m.raw, string(raw))
	s.m.texts = append(s.m.texts, string(text))
	return nil
}

// told are the texts of mails that hold a phrase, and how many identities these
// mails have.
func (m *mailbox) told(phrase string) (texts []string, identities int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	ids := map[string]bool{}
	for i, text := range m.texts {
		if strings.Contains(text, phrase) {
			texts = append(texts, text)
			ids[m.mails[i].Header.Get("Message-Id")] = true
		}
	}
	return texts, len(ids)
}

func openMailbox(t *testing.T) (*mailbox, string) {
	t.Helper()
	m := &mailbox{}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := smtp.NewServer(m)
	server.Domain = "localhost"
	server.ErrorLog = log.New(io.Discard, "", 0) // of stations that were killed
	go func() { _ = server.Serve(l) }()
	t.Cleanup(func() { _ = server.Close() })
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return m, port
}
