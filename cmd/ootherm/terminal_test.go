package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"golang.org/x/sys/unix"

	"example.com/ootherm/cmd/ootherm/internal/passphrase"
)

// terminal is a program at a terminal, and a person before it.
type terminal struct {
	t      *testing.T
	c      *exec.Cmd
	master *os.File

	mu   sync.Mutex
	said string // all that the screen showed
	seen int    // of it, what was waited for
}

// sit starts the program at a terminal of its own.
func sit(t *testing.T, args ...string) *terminal {
	t.Helper()
	return sitAt(t, command(t.Context(), args...))
}

// sitAt starts a command at a terminal of its own.
func sitAt(t *testing.T, c *exec.Cmd) *terminal {
	t.Helper()
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { master.Close() })
	if err := unix.IoctlSetPointerInt(int(master.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetUint32(int(master.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	slave, err := os.OpenFile(fmt.Sprint("/dev/pts/", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer slave.Close()
	x := &terminal{t: t, c: c, master: master}
	x.c.Stdin, x.c.Stdout, x.c.Stderr = slave, slave, slave
	x.c.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := x.c.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		b := make([]byte, 4096)
		for {
			n, err := master.Read(b)
			x.mu.Lock()
			x.said += string(b[:n])
			x.mu.Unlock()
			if err != nil { // EIO: the program has left the terminal
				return
			}
		}
	}()
	return x
}

// screen is all that was shown.
func (x *terminal) screen() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return strings.ReplaceAll(x.said, "\r\n", "\n")
}

// read waits until the screen shows a text after what was read before.
func (x *terminal) read(text string) {
	x.t.Helper()
	defer func() {
		if x.t.Failed() {
			x.t.Logf("the screen:\n%s", x.screen())
		}
	}()
	eventually(x.t, "the screen shows "+text, func() bool {
		now := x.screen()
		i := strings.Index(now[x.seen:], text)
		if i >= 0 {
			x.seen += i + len(text)
		}
		return i >= 0
	})
}

// press types keys.
func (x *terminal) press(keys string) {
	x.t.Helper()
	if _, err := x.master.WriteString(keys); err != nil {
		x.t.Fatal(err)
	}
}

// answer reads a question and types a line.
func (x *terminal) answer(question, line string) {
	x.t.Helper()
	x.read(question)
	x.press(line + "\n")
}

// echoes reports whether the terminal shows what is typed.
func (x *terminal) echoes() bool {
	x.t.Helper()
	s, err := unix.IoctlGetTermios(int(x.master.Fd()), unix.TCGETS)
	if err != nil {
		x.t.Fatal(err)
	}
	return s.Lflag&unix.ECHO != 0
}

// code waits for the end and gives its exit code.
func (x *terminal) code() int {
	_ = x.c.Wait() // what it says is the code
	return x.c.ProcessState.ExitCode()
}

// table is a Pi's kernel files with one 1-Wire thermometer and one of its own
// sensors, and where to look for them.
func table(t *testing.T) (dir string, flags []string) {
	dir = t.TempDir()
	put(t, dir, "w1/28-0416a2795aff/w1_slave", "82 01 4b 46 7f ff 0e 10 70 : crc=70 YES\n82 01 4b 46 7f ff 0e 10 70 t=24125\n")
	put(t, dir, "hwmon/hwmon0/name", "sht4x\n")
	put(t, dir, "hwmon/hwmon0/temp1_input", "23456\n")
	put(t, dir, "hwmon/hwmon0/humidity1_input", "51234\n")
	return dir, []string{"--i2c-dir", dir, "--w1-dir", filepath.Join(dir, "w1"), "--hwmon-dir", filepath.Join(dir, "hwmon"), "--iio-dir", dir}
}

// A breeder with two probes goes through all of it at the terminal, as it is asked:
// the secrets are never shown, and what comes of it runs.
func TestSetupAtATerminal(t *testing.T) {
	dir, places := table(t)
	file, data := filepath.Join(dir, "etc", "ootherm.toml"), filepath.Join(dir, "data")
	x := sit(t, append([]string{"setup", "--config", file}, places...)...)
	x.answer("Temperatures in", "f")
	x.answer("A name for this station [egg room]", "")
	x.answer("the place the boxes stand in [room]", "")
	x.answer("It is a", "inc")
	x.answer("it is held at, in F", "23") // a slip
	x.answer("is it the other unit?", "74")
	x.answer("Whose eggs", "2")
	x.answer("Another place", "")
	x.answer("reads 75.4 °F", "dummy-box")
	x.answer("reads 74.2 °F 51 %", "air")
	x.answer("Does a hub publish", "")
	x.answer("Send alarms by", "email")
	x.answer("the mail server", "127.0.0.1:1") // nobody is there
	x.answer("to whom", "keeper")
	x.answer("is not a mail address", "keeper@example.org")
	x.answer("a name for it", "mail")
	x.answer("user", "keeper")
	x.answer("the password (it goes to", "four warm eggs")
	x.answer("And by", "")
	x.answer("An address to call", "")
	x.answer("A folder for the data", data)
	x.answer("Open the page to the home network", "y")
	x.answer("The address that phones should use", "http://eggpi.local:8080")
	x.answer("A passphrase", "five cold eggs")
	x.answer("Once more", "five cold eggs")
	x.answer("The first dam", "Olive")
	x.answer("Her kind", "")
	x.answer("A box for her eggs", "B1")
	x.answer("How many eggs", "2")
	x.answer("Laid within how many days", "")
	x.answer("Write "+file, "y")
	x.read("is in order")
	x.answer("Send a test message by mail now", "y")
	x.read("It did not go out")
	x.read("Noted in the book: Olive, ")
	x.read("Next: ootherm run --config " + file)
	x.read("page is at http://eggpi.local:8080; point a phone's camera here:")
	x.read("█")
	if code := x.code(); code != exitProblem {
		t.Errorf("exit %d after a test message that did not go out, want %d", code, exitProblem)
	}
	if s := x.screen(); strings.Contains(s, "four warm eggs") || strings.Contains(s, "five cold eggs") {
		t.Errorf("a secret was shown:\n%s", s)
	}
	if info, err := os.Stat(filepath.Join(dir, "etc", "mail.password")); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the password's file: %v, %v", info, err)
	}
	if right, err := passphrase.FileIn(data).Right("five cold eggs"); err != nil || !right {
		t.Errorf("the passphrase is not the one typed: %v", err)
	}
	if got := do(t, "", "check", "--config", file); got.code != 0 || !strings.Contains(got.out, "1 zone, 2 probes, 1 sender") {
		t.Errorf("check of what was written: exit %d\n%s%s", got.code, got.out, got.errout)
	}
	// Once more over it: it stays as it is.
	again := sit(t, append([]string{"setup", "--config", file}, places...)...)
	again.read("is there already and stays as it is")
	if code := again.code(); code != exitUsage {
		t.Errorf("exit %d over a file that is there, want %d", code, exitUsage)
	}
}

// Ctrl-C at a question that hides what is typed: nothing is written, and the
// terminal shows again what is typed.
func TestCtrlCAtASecret(t *testing.T) {
	dir, places := table(t)
	file := filepath.Join(dir, "ootherm.toml")
	x := sit(t, append([]string{"setup", "--config", file}, places...)...)
	for _, question := range []string{"Temperatures in", "A name for this station", "the place", "It is a", "thermostat", "Whose eggs", "Another place", "its name", "its name", "Does a hub publish", "Other limits", "Send alarms by", "An address to call"} {
		x.answer(question, "")
	}
	x.answer("A folder for the data", filepath.Join(dir, "data"))
	x.answer("Open the page", "y")
	x.answer("The address that phones", "http://eggpi.local:8080")
	x.read("A passphrase, such as four words: ")
	eventually(t, "the terminal hides what is typed", func() bool { return !x.echoes() })
	x.press("\x03")
	x.read("setup stopped; nothing was changed")
	if code := x.code(); code == 0 {
		t.Error("exit 0")
	}
	if !x.echoes() {
		t.Error("the terminal is left without showing what is typed")
	}
	if _, err := os.Stat(file); err == nil {
		t.Error("a file was written")
	}
}

// Which probe is it? The one that warms in the hand, until Ctrl-C.
func TestProbesAtATerminal(t *testing.T) {
	t.Parallel()
	dir, places := table(t)
	x := sit(t, append([]string{"probes", "--watch"}, places...)...)
	x.read("ds18b20-5aff      ds18b20 28-0416a2795aff")
	x.read("24.1 °C; 24.1 °C; 24.1 °C")
	x.read("sht4x")
	x.read("# ootherm setup writes these lines.")
	x.read(`address = "28-0416a2795aff"`)
	x.read("There is no I2C bus.\n    sudo raspi-config nonint do_i2c 0")
	x.read("24.1 °C, 0.0 °C since the start")
	put(t, dir, "w1/28-0416a2795aff/w1_slave", "b2 01 4b 46 7f ff 0e 10 8c : crc=8c YES\nb2 01 4b 46 7f ff 0e 10 8c t=27125\n")
	x.read("27.1 °C, 3.0 °C since the start")
	x.press("\x03")
	if code := x.code(); code != 0 {
		t.Errorf("exit %d after Ctrl-C, want 0", code)
	}
}
