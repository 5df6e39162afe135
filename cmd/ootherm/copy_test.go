package main

import (
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
)

// lastWeek writes entries into the book of a station that does not run, as noted
// eight days ago.
func lastWeek(t *testing.T, data, lines string) {
	t.Helper()
	files, err := storage.Open(t.Context(), data, storage.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	entries, err := book.ReadAll(strings.NewReader(lines))
	if err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(files.Sealed())
	if err == nil {
		_, err = l.Append(entries, time.Now().AddDate(0, 0, -8))
	}
	if err != nil {
		t.Fatal(err)
	}
}

// attached is the file that went with each mail that has one, by its name.
func (m *mailbox) attached(t *testing.T) map[string][]string {
	t.Helper()
	m.mu.Lock()
	defer m.mu.Unlock()
	got := map[string][]string{}
	for i, mail := range m.mails {
		kind, params, err := mime.ParseMediaType(mail.Header.Get("Content-Type"))
		if err != nil || !strings.HasPrefix(kind, "multipart/") {
			continue
		}
		parts := multipart.NewReader(strings.NewReader(m.raw[i]), params["boundary"])
		for {
			p, err := parts.NextPart()
			if err != nil {
				break
			}
			if p.FileName() == "" {
				continue
			}
			text, err := io.ReadAll(base64.NewDecoder(base64.StdEncoding, p))
			if err != nil {
				t.Error(err)
			}
			got[p.FileName()] = append(got[p.FileName()], string(text))
		}
	}
	return got
}

// keys are the entries of a book without what the station adds.
func keys(lines string) string {
	var b strings.Builder
	for line := range strings.Lines(lines) {
		bare, _, _ := strings.Cut(line, `,"seq"`)
		b.WriteString(bare + "\n")
	}
	return b.String()
}

// The book leaves the card by mail and to a folder, once, over a kill too; check
// says how old that is; either file put into a new station's book is the book.
func TestBookLeavesTheCardAndComesBack(t *testing.T) {
	config, data, listen := small(t)
	mail, port := openMailbox(t)
	stick, secret := t.TempDir(), put(t, t.TempDir(), "password", "correct horse battery\n")
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Dir(config), "ootherm.toml", string(text)+`[[sender]]
name = "mail"
kind = "email"
host = "127.0.0.1"
port = `+port+`
tls = "none"
to = ["keeper@example.org"]
[[sender]]
name = "push"
kind = "webhook"
url = "http://127.0.0.1:9/token-3141"
secret_file = "`+secret+`"
priorities = ["critical"]
[copy]
folder = "`+stick+`"
`)
	check := do(t, "", "check", "--config", config)
	if check.code != 0 || !strings.Contains(check.out, "each Sunday by mail and to "+stick) || !strings.Contains(check.out, "no book yet") || !strings.Contains(check.out, "same disk") {
		t.Errorf("check before there is a book: %+v", check)
	}
	lastWeek(t, data, twoEntries)
	if check = do(t, "", "check", "--config", config); !strings.Contains(check.out, "No copy of the book is by mail yet.") || !strings.Contains(check.out, "No copy of the book is in "+stick) {
		t.Errorf("check before the first copy: %+v", check)
	}
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	eventually(t, "the book is mailed", func() bool { return len(mail.attached(t)) > 0 })
	eventually(t, "the book is in the folder", func() bool { all, err := os.ReadDir(stick); return err == nil && len(all) == 1 })
	eventually(t, "the delivery is noted", func() bool { h := r.now().Health; return h.Waiting == 0 && len(h.Copies) == 2 })
	r.end(syscall.SIGKILL)
	r.start()
	eventually(t, "it has looked into the folder", func() bool { return len(r.now().Health.Copies) == 2 })
	if check = do(t, "", "check", "--config", config); check.code != 0 || !strings.Contains(check.out, "The last copy of the book by mail is ") || !strings.Contains(check.out, "The last copy of the book in "+stick+" is ") {
		t.Errorf("check while the station runs: %+v", check)
	}
	if code := r.end(syscall.SIGTERM); code != 0 {
		t.Errorf("it ended with %d", code)
	}
	if check = do(t, "", "check", "--config", config); !strings.Contains(check.out, "The last copy of the book by mail is ") {
		t.Errorf("check of a station that does not run: %+v", check)
	}
	was := do(t, "", "book", "list", "--config", config).out
	names, err := os.ReadDir(stick)
	if err != nil || len(names) != 1 {
		t.Fatalf("the folder has %v (%v)", names, err)
	}
	name := names[0].Name()
	if want := "egg-room-book-" + time.Now().Format(time.DateOnly) + ".jsonl"; name != want {
		t.Errorf("the file is %q, want %q", name, want)
	}
	mailed := mail.attached(t)[name]
	kept, err := os.ReadFile(filepath.Join(stick, name))
	if err != nil || len(mailed) != 1 {
		t.Fatalf("%d mails with %s over a kill, want one (%v)", len(mailed), name, err)
	}
	if got := do(t, "", "restore", "--config", config, filepath.Join(stick, name)); got.code != 0 || !strings.Contains(got.out, "Nothing new: all 2 entries were in the book already") {
		t.Errorf("restore of a copy of the book: %+v, want it read and nothing new", got)
	}
	for where, copied := range map[string]string{"the mail": mailed[0], "the folder": string(kept)} {
		elsewhere, _, _ := small(t)
		for range 2 { // what is there is not added twice
			if got := do(t, copied, "book", "add", "--config", elsewhere); got.code != 0 {
				t.Fatalf("the copy of %s is refused: %+v", where, got)
			}
		}
		if got := do(t, "", "book", "list", "--config", elsewhere).out; was == "" || keys(got) != keys(was) {
			t.Errorf("from %s the book is\n%s\nit was\n%s", where, got, was)
		}
		for _, hidden := range []string{"battery", "token-3141"} {
			if strings.Contains(copied, hidden) {
				t.Errorf("the copy of %s holds the secret %s", where, hidden)
			}
		}
	}
}
