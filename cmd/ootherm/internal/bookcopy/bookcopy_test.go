package bookcopy

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// bench is a backup of a book, with an outbox in memory and a clock that the test sets.
type bench struct {
	*Backup
	t      *testing.T
	at     time.Time
	outbox *outbox.Memory
	book   book.Book
	n      int // entries in the book
}

func newBench(t *testing.T, at time.Time, folder string) *bench {
	c := &bench{t: t, at: at, outbox: outbox.NewMemory()}
	c.restart(folder)
	return c
}

// restart makes a new backup, as a start of the station does.
func (c *bench) restart(folder string) {
	cfg := config.Config{Senders: []config.Sender{
		{Name: "loud", Kind: "email", Priorities: []string{"critical"}},
		{Name: "neighbour", Kind: "email", After: time.Minute},
		{Name: "hook", Kind: "webhook"}, {Name: "mail", Kind: "email"}, {Name: "second", Kind: "email"},
	}, Copy: config.Copy{Day: time.Sunday, Mail: true, Folder: folder, Keep: 3}}
	plan, err := plan.FromConfig(cfg)
	if err != nil {
		c.t.Fatal(err)
	}
	plan.Name, plan.Location = "Egg room/2", time.FixedZone("", -4*60*60)
	c.Backup = New(cfg, plan)
	c.Backup.Book = func() *book.Book { b := c.book; return &b }
	c.Backup.Mails, c.Backup.Now = c.outbox, func() time.Time { return c.at }
	c.Backup.Post = func(ctx context.Context, m alert.Message) error { return c.outbox.Commit(ctx, nil, []alert.Message{m}) }
}

// note adds an entry to the book.
func (c *bench) note() {
	c.t.Helper()
	c.n++
	e := book.Entry{Key: fmt.Sprintf("k%d", c.n), At: c.at, Kind: book.KindNote, Text: "all well", Seq: uint64(c.n), Recorded: c.at}
	b, err := c.book.Note(e)
	if err != nil {
		c.t.Fatal(err)
	}
	c.book = b
}

// until lets time pass and makes the copies that are due once an hour. It returns the
// errors.
func (c *bench) until(at time.Time) (failed []error) {
	for ; c.at.Before(at); c.at = c.at.Add(time.Hour) {
		if err := c.copyIfDue(c.t.Context()); err != nil {
			failed = append(failed, err)
		}
	}
	return failed
}

// mails returns the mails that wait.
func (c *bench) mails() []alert.Message {
	c.t.Helper()
	ms, err := c.outbox.Waiting(c.t.Context())
	if err != nil {
		c.t.Fatal(err)
	}
	return ms
}

func files(t *testing.T, dir string) []string {
	t.Helper()
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range all {
		names = append(names, f.Name())
	}
	return names
}

// 2 April 2026 is a Thursday; Sundays are 5, 12, 19, 26 April.
var thursday = time.Date(2026, 4, 2, 23, 0, 0, 0, time.UTC)

// One mail and one file are made each Sunday from noon on, local time. There is none for an
// empty book and no second one after a restart. The last three files are kept, and files of
// another station stay.
func TestBookIsCopiedWeekly(t *testing.T) {
	dir := t.TempDir()
	other := filepath.Join(dir, "egg-room-book-2019-01-06.jsonl") // of another station
	if err := os.WriteFile(other, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	c := newBench(t, thursday, dir)
	if failed := c.until(thursday.AddDate(0, 0, 7)); failed != nil || len(c.mails()) != 0 {
		t.Fatalf("an empty book was copied: %v, %v", c.mails(), failed)
	}
	c.note()
	var days []string
	for range 5 * 7 {
		c.restart(dir)
		if failed := c.until(c.at.AddDate(0, 0, 1)); failed != nil {
			t.Fatal(failed)
		}
	}
	for _, m := range c.mails() {
		if m.Sender != "mail" || m.Priority != alert.Notice {
			t.Errorf("%s goes by %s as %s", m.ID, m.Sender, m.Priority)
		}
		days = append(days, m.At.In(c.location).Format("Mon 2 15:04")+" "+m.Attach)
	}
	want := []string{"Sun 12 12:00 egg-room-2-book-2026-04-12.jsonl", "Sun 19 12:00 egg-room-2-book-2026-04-19.jsonl",
		"Sun 26 12:00 egg-room-2-book-2026-04-26.jsonl", "Sun 3 12:00 egg-room-2-book-2026-05-03.jsonl", "Sun 10 12:00 egg-room-2-book-2026-05-10.jsonl"}
	if !slices.Equal(days, want) {
		t.Errorf("mails\n%s\nwant\n%s", strings.Join(days, "\n"), strings.Join(want, "\n"))
	}
	kept := []string{"egg-room-2-book-2026-04-26.jsonl", "egg-room-2-book-2026-05-03.jsonl", "egg-room-2-book-2026-05-10.jsonl", "egg-room-book-2019-01-06.jsonl"}
	if got := files(t, dir); !slices.Equal(got, kept) {
		t.Errorf("the folder has %q, want %q", got, kept)
	}
}

// The attachment is the book at the time of the mail, so a second delivery carries the
// same file.
func TestSecondDeliveryCarriesTheSameBook(t *testing.T) {
	c := newBench(t, thursday, "")
	c.note()
	c.until(thursday.AddDate(0, 0, 4))
	m := c.mails()[0]
	first, err := c.Attachment(m)
	if err != nil {
		t.Fatal(err)
	}
	c.note()
	second, err := c.Attachment(m)
	if err != nil || string(first) != string(second) || strings.Count(string(first), "\n") != 1 {
		t.Errorf("first\n%s\nthen\n%s (%v)", first, second, err)
	}
	if !strings.Contains(m.Body, "1 entry ") || !strings.Contains(m.Body, m.Attach) || len([]rune(m.Subject)) > words.SubjectRunes {
		t.Errorf("%q\n%s", m.Subject, m.Body)
	}
}

// While the stick is missing, the backup reports the error and tries again. Once the stick
// is back, it makes the missed copy.
func TestFailedCopyIsReportedAndMadeLater(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "stick")
	c := newBench(t, thursday, dir)
	c.note()
	if failed := c.until(thursday.AddDate(0, 0, 3)); len(failed) != 72 {
		t.Fatalf("%d tries failed, want each of 72", len(failed))
	}
	k := c.All()[1]
	if k.By != "folder" || k.At != nil || k.Err == nil || !strings.Contains(*k.Err, dir) || strings.Contains(*k.Err, "app:") {
		t.Errorf("the folder's state is %+v, want the error", k)
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	// A wrong clock dated this file in the future, so it does not count as a copy.
	future := filepath.Join(dir, "egg-room-2-book-2031-01-05.jsonl")
	if err := os.WriteFile(future, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if failed := c.until(thursday.AddDate(0, 0, 5)); failed != nil {
		t.Fatal(failed)
	}
	k = c.All()[1]
	if got := files(t, dir); !slices.Equal(got, []string{"egg-room-2-book-2026-04-05.jsonl", "egg-room-2-book-2031-01-05.jsonl"}) || k.Err != nil || k.At == nil {
		t.Errorf("the folder has %q, its state is %+v", got, k)
	}
}

// A mail that the server refuses for good is an error. A mail that is tried again later is
// not.
func TestMailStatus(t *testing.T) {
	c := newBench(t, thursday, "")
	c.note()
	c.until(thursday.AddDate(0, 0, 5))
	id := c.mails()[0].ID
	for _, x := range []struct {
		o    alert.Outcome
		want string
	}{
		{alert.Outcome{Sender: "mail", Result: alert.Retry, Next: c.at, Err: "busy"}, "waits"},
		{alert.Outcome{Sender: "mail", Result: alert.Refused, Err: "552 too large"}, "waits, 552 too large"},
		{alert.Outcome{Sender: "mail", Result: alert.Delivered, At: c.at}, "got there"},
	} {
		if err := c.outbox.Done(t.Context(), id, x.o); err != nil {
			t.Fatal(err)
		}
		if _, _, err := c.ReadMailStatus(t.Context()); err != nil {
			t.Fatal(err)
		}
		k, got := c.All()[0], ""
		if k.Waiting {
			got = "waits"
		}
		if k.Err != nil {
			got += ", " + *k.Err
		}
		if k.At != nil && k.At.Equal(c.at) {
			got = "got there"
		}
		if got != x.want {
			t.Errorf("after %s the state is %q, want %q", x.o.Result, got, x.want)
		}
	}
}

// A clock that is a year ahead for an hour causes one extra mail and stops none of the
// later ones.
func TestWrongClockStopsNoLaterMail(t *testing.T) {
	c := newBench(t, thursday, "")
	c.note()
	c.until(thursday.AddDate(0, 0, 5))
	before := c.at
	c.at = c.at.AddDate(1, 0, 0)
	if err := c.copyIfDue(t.Context()); err != nil {
		t.Fatal(err)
	}
	c.at = before
	c.until(thursday.AddDate(0, 0, 19))
	var days []string
	ids := map[string]bool{}
	for _, m := range c.mails() {
		days = append(days, m.At.Format("2006-01-02"))
		ids[m.ID] = true
	}
	want := []string{"2026-04-05", "2026-04-07", "2026-04-12", "2026-04-19", "2027-04-07"}
	if !slices.Equal(days, want) || len(ids) != len(days) {
		t.Errorf("mails of %q under %d identities, want %q", days, len(ids), want)
	}
}
