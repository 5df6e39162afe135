package daemon

import (
	"log/slog"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/logging"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// A raised alarm is in the log at the level of its priority, so that a critical one can be
// found there. What ends or is seen is for information.
func TestAlarmLevels(t *testing.T) {
	for _, c := range []struct {
		priority, to string
		want         slog.Level
	}{
		{"critical", "active", logging.Critical}, {"warning", "active", slog.LevelWarn}, {"notice", "active", logging.Notice},
		{"critical", "normal", slog.LevelInfo}, {"critical", "acknowledged", slog.LevelInfo},
	} {
		var b strings.Builder
		d := &daemon{log: slog.New(slog.NewTextHandler(&b, nil))}
		d.logEvent(snapshot.Event{Alarm: "a", Priority: c.priority, From: "normal", To: c.to})
		if got := b.String(); !strings.Contains(got, "level="+c.want.String()+" msg=alarm") {
			t.Errorf("%s to %s is logged as %q", c.priority, c.to, got)
		}
	}
}
