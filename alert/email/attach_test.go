package email_test

import (
	"encoding/base64"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	netmail "net/mail"
	"strings"
	"testing"

	"example.com/ootherm/alert"
)

// A message that names a file arrives with it, whole to the byte, beside its text;
// one that names none has none; a file that cannot be read is tried again.
func TestAFileGoesWithTheMail(t *testing.T) {
	k := &sink{}
	port, _ := serve(t, k, "none")
	c := config(port)
	file := []byte("{\"key\":\"a1\",\"text\":\"rä \\r\"}\n.\n.\r\n" + strings.Repeat("x", 3000))
	fail := errors.New("the station is starting")
	c.Attachment = func(m alert.Message) ([]byte, error) {
		if m.Attach != "book-2026-04-05.jsonl" {
			t.Errorf("asked for %q", m.Attach)
		}
		return file, fail
	}
	s := sender(t, c)
	m := hot
	m.Attach = "book-2026-04-05.jsonl"
	if err := s.Send(t.Context(), m); !errors.Is(err, fail) || errors.Is(err, alert.ErrPermanent) {
		t.Errorf("a file that cannot be read: %v", err)
	}
	fail = nil
	for _, x := range []alert.Message{m, hot} {
		if err := s.Send(t.Context(), x); err != nil {
			t.Fatal(err)
		}
	}
	mails, _ := k.received()
	if len(mails) != 2 {
		t.Fatalf("%d mails", len(mails))
	}
	if strings.Contains(mails[1], "multipart") {
		t.Errorf("a file went with a message that names none:\n%s", mails[1])
	}
	got, err := netmail.ReadMessage(strings.NewReader(mails[0]))
	if err != nil {
		t.Fatal(err)
	}
	_, params, err := mime.ParseMediaType(got.Header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	parts := multipart.NewReader(got.Body, params["boundary"])
	text, err := parts.NextPart()
	if err != nil {
		t.Fatal(err)
	}
	if b, err := io.ReadAll(text); err != nil || !strings.Contains(string(b), "First: see that the heater is off.") {
		t.Errorf("the text is %q (%v)", b, err)
	}
	part, err := parts.NextPart()
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(base64.NewDecoder(base64.StdEncoding, part))
	if err != nil || part.FileName() != m.Attach || string(b) != string(file) {
		t.Errorf("%q is %q (%v)", part.FileName(), b, err)
	}
}
