package logging

import (
	"bytes"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"golang.org/x/sys/unix"
)

// journald gets the priority of syslog before each line, and no second time. A person gets
// the time and the level's name.
func TestLines(t *testing.T) {
	for _, c := range []struct {
		level    slog.Level
		name     string
		priority string
	}{
		{Critical, "critical", "<2>"}, {slog.LevelError, "error", "<3>"}, {slog.LevelWarn, "warning", "<4>"},
		{Notice, "notice", "<5>"}, {slog.LevelInfo, "info", "<6>"}, {slog.LevelDebug, "debug", "<7>"},
	} {
		var journal, text bytes.Buffer
		for _, h := range []slog.Handler{newHandler(&journal, slog.LevelDebug, true), newHandler(&text, slog.LevelDebug, false)} {
			slog.New(h).With("zone", "room").Log(t.Context(), c.level, "alarm", "value", 21.5, "text", "two\nlines")
		}
		rest := "level=" + c.name + ` msg=alarm zone=room value=21.5 text="two\nlines"` + "\n"
		if got := journal.String(); got != c.priority+rest {
			t.Errorf("journald gets %q", got)
		}
		if got := text.String(); !strings.HasPrefix(got, "time=") || !strings.HasSuffix(got, " "+rest) {
			t.Errorf("a person gets %q", got)
		}
	}
}

// What is under the least level is left out.
func TestLeastLevel(t *testing.T) {
	var b bytes.Buffer
	log := slog.New(newHandler(&b, slog.LevelWarn, true))
	log.Info("a message was delivered")
	log.Warn("a wrong passphrase")
	log.Log(t.Context(), Critical, "alarm")
	if got := b.String(); strings.Count(got, "\n") != 2 || strings.Contains(got, "delivered") {
		t.Errorf("written: %q", got)
	}
}

func TestParse(t *testing.T) {
	for _, l := range levels {
		if got, err := Parse(strings.ToUpper(l.name)); err != nil || got != l.Level {
			t.Errorf("%s: %v, %v", l.name, got, err)
		}
	}
	if _, err := Parse("loud"); !usererr.IsUsage(err) || !strings.Contains(err.Error(), "critical, error, warning") {
		t.Errorf("an unknown level: %v", err)
	}
}

// Lines are for journald where it reads standard error, and not where the variable was
// inherited and the output goes elsewhere.
func TestForJournal(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "log"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var s unix.Stat_t
	if err := unix.Fstat(int(f.Fd()), &s); err != nil {
		t.Fatal(err)
	}
	own := fmt.Sprintf("%d:%d", s.Dev, s.Ino)
	if !forJournal(f, own) || forJournal(f, "8:1") || forJournal(f, "") || forJournal(new(bytes.Buffer), own) {
		t.Error("journald is not told apart from a file")
	}
	t.Setenv("JOURNAL_STREAM", own)
	log := New(f, slog.LevelWarn)
	log.Info("a message was delivered")
	log.Warn("a wrong passphrase")
	if got, err := os.ReadFile(f.Name()); err != nil || string(got) != "<4>level=warning msg=\"a wrong passphrase\"\n" {
		t.Errorf("written: %q, %v", got, err)
	}
}
