// Package logging writes the log of a station to standard error: as text with the time, or
// for journald with a priority before each line. It owns the levels and their names. It must
// not know what is logged.
package logging

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"sync"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"golang.org/x/sys/unix"
)

// Levels beside those of slog. Their names and order are those of syslog (RFC 5424, table 2).
const (
	Notice   = slog.LevelInfo + 2
	Critical = slog.LevelError + 4
)

// level is one row of the levels.
type level struct {
	slog.Level
	name     string
	priority int // of syslog; journald reads it before a line, sd-daemon(3)
}

// levels are all levels, the most urgent first.
var levels = []level{
	{Critical, "critical", 2},
	{slog.LevelError, "error", 3},
	{slog.LevelWarn, "warning", 4},
	{Notice, "notice", 5},
	{slog.LevelInfo, "info", 6},
	{slog.LevelDebug, "debug", 7},
}

// Parse gives the level of a name.
func Parse(name string) (slog.Level, error) {
	var names []string
	for _, l := range levels {
		if strings.EqualFold(l.name, name) {
			return l.Level, nil
		}
		names = append(names, l.name)
	}
	return 0, usererr.Usage(fmt.Errorf("%q is no level of the log: write one of %s", name, strings.Join(names, ", ")))
}

// New makes the log that is written to standard error. Lines under the least level are left
// out.
func New(stderr io.Writer, least slog.Level) *slog.Logger {
	return slog.New(newHandler(stderr, least, forJournal(stderr, os.Getenv("JOURNAL_STREAM"))))
}

// forJournal reports whether journald reads a file: stream is its device and inode as
// JOURNAL_STREAM names them, systemd.exec(5).
func forJournal(w io.Writer, stream string) bool {
	f, ok := w.(*os.File)
	if !ok || stream == "" {
		return false
	}
	var s unix.Stat_t
	return unix.Fstat(int(f.Fd()), &s) == nil && fmt.Sprintf("%d:%d", s.Dev, s.Ino) == stream
}

// handler writes one line for each record, after the priority where journald reads it.
type handler struct {
	slog.Handler // writes to the buffer
	*output
}

// output is what handlers made from one another share.
type output struct {
	mu      sync.Mutex
	w       io.Writer
	line    bytes.Buffer
	journal bool
}

func newHandler(w io.Writer, least slog.Level, journal bool) handler {
	o := &output{w: w, journal: journal}
	return handler{slog.NewTextHandler(&o.line, &slog.HandlerOptions{Level: least, ReplaceAttr: func(groups []string, a slog.Attr) slog.Attr {
		switch {
		case len(groups) > 0:
		case a.Key == slog.LevelKey:
			return slog.String(slog.LevelKey, nearest(a.Value.Any().(slog.Level)).name)
		case a.Key == slog.TimeKey && journal:
			return slog.Attr{} // journald has its own
		}
		return a
	}}), o}
}

// nearest gives the most urgent named level that is not above l.
func nearest(l slog.Level) level {
	for _, x := range levels {
		if l >= x.Level {
			return x
		}
	}
	return levels[len(levels)-1]
}

// Handle writes a record.
func (h handler) Handle(ctx context.Context, r slog.Record) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.line.Reset()
	if h.journal {
		fmt.Fprintf(&h.line, "<%d>", nearest(r.Level).priority)
	}
	if err := h.Handler.Handle(ctx, r); err != nil {
		return err
	}
	_, err := h.w.Write(h.line.Bytes())
	return err
}

// WithAttrs gives a handler that adds attributes to each record.
func (h handler) WithAttrs(all []slog.Attr) slog.Handler {
	return handler{h.Handler.WithAttrs(all), h.output}
}

// WithGroup gives a handler that puts the attributes that follow into a group.
func (h handler) WithGroup(name string) slog.Handler {
	return handler{h.Handler.WithGroup(name), h.output}
}
