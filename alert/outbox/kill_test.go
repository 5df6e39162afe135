package outbox_test

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/ratelimit"
)

const (
	childDir  = "OOTHERM_TEST_OUTBOX_DIR"
	childSeed = "OOTHERM_TEST_OUTBOX_SEED"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		if err := child(dir, os.Getenv(childSeed)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// doorstep is a sender whose messages are lines of a file.
type doorstep struct{ f *os.File }

func (d doorstep) Send(_ context.Context, m alert.Message) error {
	_, err := fmt.Fprintln(d.f, m.ID, m.Subject)
	return err
}

// child commits alarms and messages as fast as it can, says which were stored,
// and kills itself at a random moment.
func child(dir, seed string) error {
	n, err := strconv.ParseUint(seed, 10, 64)
	if err != nil {
		return err
	}
	r := rand.New(rand.NewPCG(n, 3))
	db, err := bbolt.Open(filepath.Join(dir, "records.db"), 0o600, lock)
	if err != nil {
		return err
	}
	s, err := outbox.New(db)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(dir, "delivered"), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	a, has, err := s.Alarm(context.Background(), room.String())
	if err != nil {
		return err
	}
	if !has {
		a = alert.New(room, alert.Limit{High: true, At: 26})
	}
	c := outbox.NewCourier(s, []outbox.Route{{Name: "door", Sender: doorstep{f}, RateLimit: ratelimit.Limit{PerHour: 1 << 30}}}, time.Now, func(at outbox.Attempt) {
		if at.Err != nil {
			fmt.Fprintln(os.Stderr, at.Err)
		}
	})
	go c.Run(context.Background())
	fuse := r.IntN(100_000_000)
	go func() {
		x := 0
		for i := range fuse {
			x += i
		}
		fmt.Fprint(os.Stderr, strings.Repeat(" ", x&1)) // so that the loop has to be run
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
	}()
	for {
		var id string
		a, _ = a.Observe(time.Now(), float64(20+10*(a.Sequence%2)), true)
		a, id = a.Next()
		m := alert.Message{ID: id, Alarm: room.String(), At: time.Now(), Subject: fmt.Sprintf("number %d", a.Sequence), Sender: "door"}
		if err := s.Commit(context.Background(), []alert.Alarm{a}, []alert.Message{m}); err != nil {
			return err
		}
		fmt.Println(id)
		c.Wake()
	}
}

var room = alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Critical, Zone: "room"}

func TestKilledAtRandomPoints(t *testing.T) {
	runs := 20
	if os.Getenv("OOTHERM_FULL") == "1" {
		runs = 1000
	}
	dir := t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	acknowledged, repeated, unsaid := 0, 0, 0
	var last uint64
	for run := range runs {
		cmd := exec.Command(self)
		cmd.Env = append(os.Environ(), childDir+"="+dir, childSeed+"="+strconv.Itoa(run))
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		err := cmd.Run()
		var exit *exec.ExitError
		if !errors.As(err, &exit) || exit.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
			t.Fatalf("run %d ended by itself: %v\n%s", run, err, errs.String())
		}
		if bad := strings.TrimSpace(errs.String()); bad != "" {
			t.Fatalf("run %d: %s", run, bad)
		}
		db := open(t, filepath.Join(dir, "records.db"))
		s, err := outbox.New(db)
		if err != nil {
			t.Fatalf("run %d: %v", run, err)
		}
		alarms, waiting, err := s.Load(t.Context())
		if err != nil {
			t.Fatalf("run %d: %v", run, err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		have := map[string]string{} // by identity: the subject
		for _, m := range waiting {
			have[m.ID] = m.Subject
		}
		repeated = 0
		for id, subjects := range delivered(t, dir) {
			repeated += len(subjects) - 1
			for _, s := range subjects {
				if before, ok := have[id]; ok && before != s {
					t.Errorf("run %d: %s is %q and %q", run, id, before, s)
				}
				have[id] = s
			}
		}
		said := strings.Fields(out.String())
		acknowledged += len(said)
		for _, id := range said {
			if _, ok := have[id]; !ok {
				t.Errorf("run %d: %s was stored, and is neither delivered nor waiting", run, id)
			}
		}
		if len(alarms) == 0 {
			if len(said) > 0 {
				t.Errorf("run %d: the alarm is lost", run)
			}
			continue
		}
		stored := alarms[0].Sequence
		if most := last + uint64(len(said)); stored < most || stored > most+1 {
			t.Errorf("run %d: the alarm's sequence is %d; %d were stored before, %d now", run, stored, last, len(said))
		}
		if stored > last+uint64(len(said)) {
			unsaid++
		}
		for n := last + 1; n <= stored; n++ { // an alarm comes with its message, or neither does
			if _, ok := have[fmt.Sprintf("%s/%d", room, n)]; !ok {
				t.Errorf("run %d: message %d was never delivered and does not wait", run, n)
			}
		}
		last = stored
	}
	t.Logf("%d runs killed: %d messages stored, %d deliveries repeated under their identity, %d commits stored and not acknowledged; none lost is the promise",
		runs, acknowledged, repeated, unsaid)
	if acknowledged < runs {
		t.Errorf("%d messages in %d runs: killed too early to say anything", acknowledged, runs)
	}
}

// delivered is the subjects that came under each identity.
func delivered(t *testing.T, dir string) map[string][]string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "delivered"))
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Fatal(err)
	}
	got := map[string][]string{}
	for sc := bufio.NewScanner(bytes.NewReader(b)); sc.Scan(); {
		id, subject, ok := strings.Cut(sc.Text(), " ")
		if !ok {
			t.Fatalf("torn line %q", sc.Text())
		}
		got[id] = append(got[id], subject)
	}
	return got
}
