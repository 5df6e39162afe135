package check

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/heartbeat"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
)

// Reach calls the heartbeat once and writes what came of it. The error says that nobody would
// be told of a critical alarm, and why.
func Reach(ctx context.Context, w io.Writer, path string) error {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	if h := c.Station.Heartbeat; h != nil {
		if err := beat(ctx, h.URL); err != nil {
			fmt.Fprintf(w, "Repair: heartbeat: it does not get out (%v), so its watcher raises false alarms now, or never learns that the station died at night. Correct the address, or look at the network.\n", err)
		} else {
			fmt.Fprintln(w, "The heartbeat was called, and its watcher answered.")
		}
	}
	return nobodyTold(c)
}

// beat calls a heartbeat's address.
func beat(ctx context.Context, url string) error {
	b, err := heartbeat.New(url, dialer.New().Client(dialer.MaxReply))
	if err != nil {
		return err
	}
	return b.Send(ctx)
}

// nobodyTold returns an error if no sender can tell a person of a critical alarm.
func nobodyTold(c config.Config) error {
	senders := messageSenders(c)
	if len(senders) == 0 {
		return errors.New("nobody would be told of a critical alarm: there is no sender. Add a [[sender]], as in: ootherm help senders")
	}
	var why []string
	for _, x := range senders {
		switch lost := lostFiles(x, c.Station.Data); {
		case !(plan.Sender{Priorities: x.Priorities}).Takes(alert.Message{Priority: alert.Critical}):
			why = append(why, whyNotImmediate(x))
		case len(lost) > 0:
			why = append(why, lost[0])
		default:
			return nil
		}
	}
	return fmt.Errorf("nobody would be told of a critical alarm: %s", strings.Join(why, "; "))
}

// unreadableFiles lists the files of passwords, secrets and certificates that the station
// cannot use, each with what follows from it.
func unreadableFiles(senders []config.Sender, data string) (all []string) {
	for _, x := range senders {
		for _, lost := range lostFiles(x, data) {
			all = append(all, lost+", so it sends nothing, by day or night. Put the text in that file, and let the station's user alone read it.")
		}
	}
	return all
}

// lostFiles names the files of a sender that the station cannot use, with the reason. A file
// that only the user of this command may not read is not among them.
func lostFiles(x config.Sender, data string) (lost []string) {
	for _, f := range filesOf(x) {
		if err := permission.Readable(f.path, data); err != nil && !errors.Is(err, permission.ErrUnknown) {
			lost = append(lost, fmt.Sprintf("sender %s cannot use its %s %s: %s", x.Name, f.key, f.path, reason(err)))
		} else if info, err := os.Stat(f.path); err == nil && info.Mode().IsRegular() && info.Size() == 0 {
			lost = append(lost, fmt.Sprintf("sender %s cannot use its %s %s: it is empty", x.Name, f.key, f.path))
		}
	}
	return lost
}

// unknownFiles lists the files of senders that the user of this command may not read, so that
// it is not known whether the station can.
func unknownFiles(senders []config.Sender, data string) (all []string) {
	for _, x := range senders {
		for _, f := range filesOf(x) {
			if err := permission.Readable(f.path, data); errors.Is(err, permission.ErrUnknown) {
				all = append(all, fmt.Sprintf("sender %s: whether the station can read its %s %s is not known: %v", x.Name, f.key, f.path, permission.SudoHint(err)))
			}
		}
	}
	return all
}

// senderFile is a file that a sender reads at each message.
type senderFile struct{ key, path string }

func filesOf(x config.Sender) (all []senderFile) {
	for _, f := range [...]senderFile{{"password_file", x.PasswordFile}, {"secret_file", x.SecretFile}, {"ca_file", x.CAFile}} {
		if f.path != "" {
			all = append(all, f)
		}
	}
	return all
}

// reason is an error without the path, which is named before it.
func reason(err error) string {
	var at *fs.PathError
	if errors.As(err, &at) {
		return at.Err.Error()
	}
	return err.Error()
}
