// Package bookcopy takes the breeder's book away from the card each week, by mail and
// into a folder. It decides when a copy is due and writes it. It must not know how the
// station computes anything, or how a mail is sent.
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
	"golang.org/x/sys/unix"
)

// copyHour is the hour of the day at which a copy is due: somebody is awake to
// read the mail.
const copyHour = 12

// errNoBookYet is why no copy can be written just after a start.
var errNoBookYet = usererr.New("the station is still opening its files; nothing was changed; try again in a minute")

// copyAbout is what the mails with the book are about, in their identities.
const copyAbout = "copy"

// Copier has the book leave the card: once a week as a file at a mail, and as a
// file in a folder. What it did it reads from the outbox and from the folder, so
// that a restart makes none twice.
type Copier struct {
	name   string // of the station
	where  *time.Location
	To     config.Copy
	Sender string // who carries the mail; empty: none
	Book   func() *book.Book
	Box    letterbox
	Post   func(context.Context, alert.Message) error
	Now    func() time.Time

	mu     sync.Mutex
	mail   snapshot.Copy
	folder snapshot.Copy
	looked bool      // at the folder, once at least
	began  time.Time // of a write that has not come back; zero: none
}

// letterbox is what the copier asks of the outbox.
type letterbox interface {
	Last(ctx context.Context, about, sender string) (outbox.Mark, bool, error)
	Waiting(context.Context) ([]alert.Message, error)
}

// CopierOf is the copier of a configuration. The station is not there yet.
func CopierOf(c config.Config, plan plan.Plan) *Copier {
	x := &Copier{name: plan.Name, where: plan.Location, To: c.Copy, folder: snapshot.Copy{To: c.Copy.Folder}}
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

// due is when the last weekly copy fell due.
func (c *Copier) due(at time.Time) time.Time {
	at = at.In(c.where)
	back := (int(at.Weekday()) - int(c.To.Day) + 7) % 7
	due := time.Date(at.Year(), at.Month(), at.Day()-back, copyHour, 0, 0, 0, c.where)
	if due.After(at) {
		due = due.AddDate(0, 0, -7)
	}
	return due
}

// worth reports whether the book held anything when a copy fell due.
func worth(b *book.Book, due time.Time) bool {
	for e := range b.Arrived() {
		return !e.Recorded.After(due)
	}
	return false
}

// written is the book as it stood at a time, one JSON object a line, and how many
// there are. It holds what the breeder noted and nothing else.
func written(b *book.Book, at time.Time) ([]byte, int, error) {
	var lines bytes.Buffer
	n := 0
	err := book.WriteJSON(&lines, func(yield func(book.Entry) bool) {
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

// stem is what the names of this station's copies begin with.
func (c *Copier) stem() string {
	plain := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return '-'
	}, c.name)
	return plain + "-book-"
}

const copySuffix = ".jsonl"

func (c *Copier) file(at time.Time) string {
	return c.stem() + at.In(c.where).Format(time.DateOnly) + copySuffix
}

// look makes the copies that are due.
func (c *Copier) look(ctx context.Context) error {
	b := c.Book()
	if b == nil {
		return nil
	}
	return errors.Join(c.lookMail(ctx, b), c.lookFolder(ctx, b))
}

// lookMail has the outbox take the week's mail. One dated ahead was written by a
// clock that was wrong, and stands in for none.
func (c *Copier) lookMail(ctx context.Context, b *book.Book) error {
	if c.Sender == "" {
		return nil
	}
	last, had, err := c.StatusMail(ctx)
	if err != nil {
		return err
	}
	at := c.Now()
	due := c.due(at)
	if had && !last.At.Before(due) && !last.At.After(at.Add(plan.MaxClockSkew)) || !worth(b, due) {
		return nil
	}
	_, n, err := written(b, at)
	if err != nil {
		return err
	}
	return c.Post(ctx, alert.Message{
		ID: fmt.Sprintf("%s/%d", copyAbout, last.Sequence+1), At: at, Priority: alert.Notice, Sender: c.Sender, Attach: c.file(at),
		Subject: words.Headline(words.Other, c.name, "book, "+at.In(c.where).Format("2 January")),
		Body: fmt.Sprintf("The whole book of %s goes with this, %s up to now. Keep it somewhere that is not the station's card.\n"+
			"To put it into a new station's book: ootherm book add --config FILE %s\nWhat is in that book already is not added twice.\n",
			c.name, words.Count(n, "entry", "entries"), c.file(at)),
	})
}

// StatusMail looks how the last mail stands.
func (c *Copier) StatusMail(ctx context.Context) (outbox.Mark, bool, error) {
	if c.Sender == "" {
		return outbox.Mark{}, false, nil
	}
	last, had, err := c.Box.Last(ctx, copyAbout, c.Sender)
	if err != nil {
		return outbox.Mark{}, false, err
	}
	waiting, err := c.Box.Waiting(ctx)
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
		if m.Sender != c.Sender || !strings.HasPrefix(m.ID, copyAbout+"/") {
			continue
		}
		c.mail.Waiting = true
		if m.Refused {
			c.mail.Err = &m.LastErr
		}
	}
	return last, had, nil
}

// StatusFolder looks how the folder stands. It may never come back.
func (c *Copier) StatusFolder() {
	if c.To.Folder == "" {
		return
	}
	days, err := c.kept(c.Now())
	c.mu.Lock()
	defer c.mu.Unlock()
	c.looked = true
	if err != nil {
		text := err.Error()
		c.folder.Err = &text
	} else if len(days) > 0 {
		c.folder.At = &days[len(days)-1]
	}
}

// Attachment is what goes with a message of [copier.lookMail]: the book as it stood
// then, so that a second delivery brings the same.
func (c *Copier) Attachment(m alert.Message) ([]byte, error) {
	b := c.Book()
	if b == nil {
		return nil, errNoBookYet
	}
	lines, _, err := written(b, m.At)
	return lines, err
}

// lookFolder writes the week's file. The folder may be on a stick or a share that
// hangs for ever, so it is written beside.
func (c *Copier) lookFolder(ctx context.Context, b *book.Book) error {
	if c.To.Folder == "" {
		return nil
	}
	at := c.Now()
	c.mu.Lock()
	hangs := !c.began.IsZero()
	if !hangs {
		c.began = at
	}
	c.mu.Unlock()
	if hangs {
		return nil
	}
	done := make(chan error, 1)
	go func() {
		last, err := c.intoFolder(b, at)
		c.mu.Lock()
		defer c.mu.Unlock()
		c.began, c.looked, c.folder.At, c.folder.Err = time.Time{}, true, last, nil
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

// intoFolder writes the week's file if it is not there yet, and takes away those
// past their number. It gives the day of the newest.
func (c *Copier) intoFolder(b *book.Book, at time.Time) (*time.Time, error) {
	days, err := c.kept(at)
	if err != nil {
		return nil, err
	}
	var last *time.Time
	if len(days) > 0 {
		last = &days[len(days)-1]
	}
	due := c.due(at)
	if last != nil && !last.Before(time.Date(due.Year(), due.Month(), due.Day(), 0, 0, 0, 0, c.where)) || !worth(b, due) {
		return last, nil
	}
	lines, _, err := written(b, at)
	if err != nil {
		return last, err
	}
	if err := atomicfile.WriteBytes(filepath.Join(c.To.Folder, c.file(at)), lines); err != nil {
		return last, err
	}
	if days, err = c.kept(at); err != nil || len(days) == 0 {
		return last, errors.Join(err, fmt.Errorf("it is not in %s after it was written", c.To.Folder))
	}
	for len(days) > c.To.Keep {
		if err := os.Remove(filepath.Join(c.To.Folder, c.file(days[0]))); err != nil {
			return &days[len(days)-1], fmt.Errorf("an old one: %w", err)
		}
		days = days[1:]
	}
	return &days[len(days)-1], nil
}

// kept are the days of this station's copies in the folder, in their order. One of
// a day to come was made when the clock was wrong, and is no copy of this week.
func (c *Copier) kept(at time.Time) ([]time.Time, error) {
	all, err := os.ReadDir(c.To.Folder)
	if err != nil {
		return nil, err
	}
	var days []time.Time
	for _, f := range all {
		name := strings.TrimSuffix(strings.TrimPrefix(f.Name(), c.stem()), copySuffix)
		day, err := time.ParseInLocation(time.DateOnly, name, c.where)
		if err == nil && c.file(day) == f.Name() && !day.After(at) {
			days = append(days, day)
		}
	}
	slices.SortFunc(days, time.Time.Compare)
	return days, nil
}

// SameDisk reports whether two folders are of one file system.
func SameDisk(a, b string) (bool, error) {
	var x, y unix.Stat_t
	err := unix.Stat(b, &y)
	for ; errors.Is(err, unix.ENOENT) && b != filepath.Dir(b); err = unix.Stat(b, &y) {
		b = filepath.Dir(b) // where it will be
	}
	if err := errors.Join(unix.Stat(a, &x), err); err != nil {
		return false, err
	}
	return x.Dev == y.Dev, nil
}

// stuck is how long a folder may take for one file.
const stuck = 10 * time.Minute

// All are the ways the book leaves the card, and how each stands.
func (c *Copier) All() []snapshot.Copy {
	c.mu.Lock()
	defer c.mu.Unlock()
	all := []snapshot.Copy{}
	if c.Sender != "" {
		m := c.mail
		m.By = "mail"
		all = append(all, m)
	}
	if hangs := !c.began.IsZero() && c.Now().Sub(c.began) > stuck; c.looked || hangs {
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

// Run makes copies as they fall due, until the context ends.
func (c *Copier) Run(ctx context.Context, failed func(error)) {
	for {
		wait := time.Minute
		if c.Book() == nil { // the station is about to be handed over
			wait = 100 * time.Millisecond
		}
		if err := c.look(ctx); err != nil && ctx.Err() == nil {
			failed(err)
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
	}
}
