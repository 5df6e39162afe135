// Package bookcopy copies the breeder's book off the card each week, by mail and into a
// folder. It decides when a copy is due and writes it. It must not know how the station
// computes anything, or how a mail is sent.
//
// # Decisions
//
// The package keeps no state of its own: the outbox knows the last mail about a copy, the
// folder its files. The book is written out when the mail is sent, as it was at the
// message's time, so a second delivery is the same.
package bookcopy

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
	"golang.org/x/sys/unix"
)

// dueHour is the local hour of the day at which a copy is due. At noon a reader is awake
// (our choice).
const dueHour = 12

// errNoBookYet is the error of a copy that is asked for before the station is ready.
var errNoBookYet = usererr.New("the station is still opening its files; nothing was changed; try again in a minute")

// idPrefix begins the identity of each mail with the book.
const idPrefix = "copy"

// Backup copies the book once a week, as an attachment of a mail and as a file in a
// folder. It reads from the outbox and from the folder which copies exist, so a restart
// makes no copy twice.
type Backup struct {
	name     string // of the station
	location *time.Location
	To       config.Copy
	Sender   string // carries the mail; empty: none
	Book     func() *book.Book
	Mails    mailStatus
	Post     func(context.Context, alert.Message) error
	Now      func() time.Time

	mu           sync.Mutex
	mail         snapshot.Copy
	folder       snapshot.Copy
	folderRead   bool      // at least once
	writingSince time.Time // a write into the folder has not returned since then; zero: none
}

// mailStatus is the part of the outbox that tells which mails with the book exist.
type mailStatus interface {
	Last(ctx context.Context, about, sender string) (outbox.Mark, bool, error)
	Waiting(context.Context) ([]alert.Message, error)
}

// New makes the backup that a configuration describes. The caller sets Book, Mails, Post
// and Now before the first use.
func New(c config.Config, plan plan.Plan) *Backup {
	x := &Backup{name: plan.Name, location: plan.Location, To: c.Copy, folder: snapshot.Copy{To: c.Copy.Folder}}
	if c.Copy.Mail {
		weekly := alert.Message{Priority: alert.Notice}
		for _, s := range c.Senders {
			if s.Kind == "email" && plan.Sender(s.Name).Takes(weekly) {
				x.Sender, x.mail.To = s.Name, s.Name
				break
			}
		}
	}
	return x
}

// due returns the last time at or before a time at which a weekly copy was due.
func (c *Backup) due(at time.Time) time.Time {
	at = at.In(c.location)
	back := (int(at.Weekday()) - int(c.To.Day) + 7) % 7
	due := time.Date(at.Year(), at.Month(), at.Day()-back, dueHour, 0, 0, 0, c.location)
	if due.After(at) {
		due = due.AddDate(0, 0, -7)
	}
	return due
}

// hadEntries reports whether the book held an entry at a time.
func hadEntries(b *book.Book, at time.Time) bool {
	for e := range b.Arrived() {
		return !e.Recorded.After(at)
	}
	return false
}

// jsonLines returns the entries that the book held at a time, one JSON object per line,
// and their number.
func jsonLines(b *book.Book, at time.Time) ([]byte, int, error) {
	var lines bytes.Buffer
	n := 0
	err := bookfile.WriteJSON(&lines, func(yield func(book.Entry) bool) {
		for e := range b.Arrived() {
			if e.Recorded.After(at) {
				continue
			}
			if n++; !yield(e) {
				return
			}
		}
	})
	if err != nil {
		return nil, 0, fmt.Errorf("writing the book out: %w", err)
	}
	return lines.Bytes(), n, nil
}

// filePrefix begins the file names of this station's copies.
func (c *Backup) filePrefix() string {
	plain := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return '-'
	}, c.name)
	return plain + "-book-"
}

const fileSuffix = ".jsonl"

// fileName returns the name of the copy of a day.
func (c *Backup) fileName(at time.Time) string {
	return c.filePrefix() + at.In(c.location).Format(time.DateOnly) + fileSuffix
}

// copyIfDue makes the copies that are due.
func (c *Backup) copyIfDue(ctx context.Context) error {
	b := c.Book()
	if b == nil {
		return nil
	}
	return errors.Join(c.mailIfDue(ctx, b), c.writeIfDue(ctx, b))
}

// mailIfDue posts the week's mail if the outbox has none. A mail that is dated in the
// future was written by a wrong clock and does not count.
func (c *Backup) mailIfDue(ctx context.Context, b *book.Book) error {
	if c.Sender == "" {
		return nil
	}
	last, found, err := c.ReadMailStatus(ctx)
	if err != nil {
		return err
	}
	at := c.Now()
	due := c.due(at)
	if found && !last.At.Before(due) && !last.At.After(at.Add(plan.MaxClockSkew)) || !hadEntries(b, due) {
		return nil
	}
	_, n, err := jsonLines(b, at)
	if err != nil {
		return err
	}
	return c.Post(ctx, alert.Message{
		ID: fmt.Sprintf("%s/%d", idPrefix, last.Sequence+1), At: at, Priority: alert.Notice, Sender: c.Sender, Attach: c.fileName(at),
		Subject: words.Subject(words.Other, c.name, "book, "+at.In(c.location).Format("2 January")),
		Body: fmt.Sprintf("The whole book of %s goes with this, %s up to now. Keep it somewhere that is not the station's card.\n"+
			"To put it into a new station's book: ootherm book add %s\nWhat is in that book already is not added twice.\n",
			c.name, words.Count(n, "entry", "entries"), c.fileName(at)),
	})
}

// ReadMailStatus reads from the outbox whether the last mail was delivered. It returns
// that mail's mark and reports whether there is one.
func (c *Backup) ReadMailStatus(ctx context.Context) (outbox.Mark, bool, error) {
	if c.Sender == "" {
		return outbox.Mark{}, false, nil
	}
	last, found, err := c.Mails.Last(ctx, idPrefix, c.Sender)
	if err != nil {
		return outbox.Mark{}, false, err
	}
	waiting, err := c.Mails.Waiting(ctx)
	if err != nil {
		return outbox.Mark{}, false, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.mail.At, c.mail.Waiting, c.mail.Err = nil, false, nil
	if !last.Delivered.IsZero() {
		c.mail.At = &last.Delivered
	}
	for _, m := range waiting {
		if m.Sender != c.Sender || !strings.HasPrefix(m.ID, idPrefix+"/") {
			continue
		}
		c.mail.Waiting = true
		if m.Refused {
			c.mail.Err = &m.LastErr
		}
	}
	return last, found, nil
}

// ReadFolderStatus reads the newest copy from the folder. On a share that hangs it does
// not return.
func (c *Backup) ReadFolderStatus() {
	if c.To.Folder == "" {
		return
	}
	days, err := c.days(c.Now())
	c.mu.Lock()
	defer c.mu.Unlock()
	c.folderRead = true
	if err != nil {
		text := err.Error()
		c.folder.Err = &text
	} else if len(days) > 0 {
		c.folder.At = &days[len(days)-1]
	}
}

// Attachment returns the file that goes with a mail: the book at the time of the mail. A
// second delivery carries the same file.
func (c *Backup) Attachment(m alert.Message) ([]byte, error) {
	b := c.Book()
	if b == nil {
		return nil, errNoBookYet
	}
	lines, _, err := jsonLines(b, m.At)
	return lines, err
}

// writeIfDue writes the week's file into the folder. It writes in a goroutine of its own,
// because a stick or a share can hang for ever.
func (c *Backup) writeIfDue(ctx context.Context, b *book.Book) error {
	if c.To.Folder == "" {
		return nil
	}
	at := c.Now()
	c.mu.Lock()
	hangs := !c.writingSince.IsZero()
	if !hangs {
		c.writingSince = at
	}
	c.mu.Unlock()
	if hangs {
		return nil
	}
	done := make(chan error, 1)
	go func() {
		last, err := c.writeFile(b, at)
		c.mu.Lock()
		defer c.mu.Unlock()
		c.writingSince, c.folderRead, c.folder.At, c.folder.Err = time.Time{}, true, last, nil
		if err != nil {
			text := err.Error()
			c.folder.Err = &text
			err = fmt.Errorf("the book's copy: %w", err)
		}
		done <- err
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return nil
	}
}

// writeFile writes the week's file if the folder does not hold it, and removes the oldest
// files past the number to keep. It returns the day of the newest file.
func (c *Backup) writeFile(b *book.Book, at time.Time) (*time.Time, error) {
	days, err := c.days(at)
	if err != nil {
		return nil, err
	}
	var last *time.Time
	if len(days) > 0 {
		last = &days[len(days)-1]
	}
	due := c.due(at)
	if last != nil && !last.Before(time.Date(due.Year(), due.Month(), due.Day(), 0, 0, 0, 0, c.location)) || !hadEntries(b, due) {
		return last, nil
	}
	lines, _, err := jsonLines(b, at)
	if err != nil {
		return last, err
	}
	if err := atomicfile.WriteBytes(filepath.Join(c.To.Folder, c.fileName(at)), lines); err != nil {
		return last, err
	}
	if days, err = c.days(at); err != nil || len(days) == 0 {
		return last, errors.Join(err, fmt.Errorf("the copy is not in %s after it was written", c.To.Folder))
	}
	for len(days) > c.To.Keep {
		if err := os.Remove(filepath.Join(c.To.Folder, c.fileName(days[0]))); err != nil {
			return &days[len(days)-1], fmt.Errorf("removing an old copy: %w", err)
		}
		days = days[1:]
	}
	return &days[len(days)-1], nil
}

// days returns the days of this station's copies in the folder, oldest first. It leaves
// out copies from after the given time: a wrong clock made them.
func (c *Backup) days(at time.Time) ([]time.Time, error) {
	all, err := os.ReadDir(c.To.Folder)
	if err != nil {
		return nil, err
	}
	var days []time.Time
	for _, f := range all {
		name := strings.TrimSuffix(strings.TrimPrefix(f.Name(), c.filePrefix()), fileSuffix)
		day, err := time.ParseInLocation(time.DateOnly, name, c.location)
		if err == nil && c.fileName(day) == f.Name() && !day.After(at) {
			days = append(days, day)
		}
	}
	slices.SortFunc(days, time.Time.Compare)
	return days, nil
}

// SameDisk reports whether two folders are on one file system. The second folder need not
// exist yet.
func SameDisk(a, b string) (bool, error) {
	var x, y unix.Stat_t
	err := unix.Stat(b, &y)
	for ; errors.Is(err, unix.ENOENT) && b != filepath.Dir(b); err = unix.Stat(b, &y) {
		b = filepath.Dir(b) // where it will be made
	}
	if err := errors.Join(unix.Stat(a, &x), err); err != nil {
		return false, err
	}
	return x.Dev == y.Dev, nil
}

// maxWriteTime limits how long the folder may take for one file before the station says
// that it does not answer (our choice).
const maxWriteTime = 10 * time.Minute

// All returns the state of each way in which the book is copied.
func (c *Backup) All() []snapshot.Copy {
	c.mu.Lock()
	defer c.mu.Unlock()
	all := []snapshot.Copy{}
	if c.Sender != "" {
		m := c.mail
		m.By = "mail"
		all = append(all, m)
	}
	if hangs := !c.writingSince.IsZero() && c.Now().Sub(c.writingSince) > maxWriteTime; c.folderRead || hangs {
		f := c.folder
		f.By = "folder"
		if hangs {
			text := "the folder " + c.To.Folder + " does not answer"
			f.Err = &text
		}
		all = append(all, f)
	}
	return all
}

// Run makes the copies that are due, until the context ends. It passes errors to failed.
func (c *Backup) Run(ctx context.Context, failed func(error)) {
	for {
		wait := time.Minute
		if c.Book() == nil { // the station is not ready
			wait = 100 * time.Millisecond
		}
		if err := c.copyIfDue(ctx); err != nil && ctx.Err() == nil {
			failed(err)
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
	}
}
