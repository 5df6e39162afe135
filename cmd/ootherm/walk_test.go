//go:build bare

package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// newcomer is a person with sudo on a bare Debian, as `.ci/bare` makes it. Nothing of
// ootherm is on it but a clone. There is no systemd: the walk starts the service as the
// unit would.
type newcomer struct {
	t       *testing.T
	mail    *mailbox
	port    string // of the mail server
	station *exec.Cmd
	ended   chan struct{} // closed when the station has ended
	log     *bytes.Buffer
	times   []string
}

const (
	packagedConfig = "/etc/ootherm/ootherm.toml"
	packagedData   = "/var/lib/ootherm"
	packagedPage   = "http://127.0.0.1:8080"
	clone          = "../.."
	// A bare Debian has no pkill.
	killStation = `sudo bash -c 'for p in /proc/[0-9]*; do [ "$(cat $p/comm 2>/dev/null)" != ootherm ] || kill -KILL ${p#/proc/}; done'`
	walkedProbe = "/sys/bus/w1/devices/28-0416a2795aff"
)

// step runs one step and notes how long it took. The walk ends at the first that fails.
func (n *newcomer) step(name string, do func()) {
	began := time.Now()
	ok := n.t.Run(name, func(t *testing.T) {
		outer := n.t
		n.t = t
		defer func() { n.t = outer }()
		do()
	})
	n.times = append(n.times, fmt.Sprintf("%-28s %6.1f s", name, time.Since(began).Seconds()))
	if !ok {
		if n.log != nil {
			n.t.Logf("the station said:\n%s", n.log)
		}
		n.t.FailNow()
	}
}

// sh runs a line of a shell, which must succeed, and returns what it printed.
func (n *newcomer) sh(line string) string {
	n.t.Helper()
	out, err := n.try(line)
	if err != nil {
		n.t.Fatalf("%s: %v\n%s", line, err, out)
	}
	return out
}

func (n *newcomer) try(line string) (string, error) {
	c := exec.CommandContext(n.t.Context(), "bash", "-c", line)
	c.Dir = clone
	out, err := c.CombinedOutput()
	return string(out), err
}

// shows fails unless a text has all of the parts.
func (n *newcomer) shows(text string, parts ...string) {
	n.t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			n.t.Errorf("%q is not in:\n%s", p, text)
		}
	}
}

// warm has the probe read a temperature. A reader sees the file whole.
func (n *newcomer) warm(celsius float64) {
	n.t.Helper()
	n.sh(fmt.Sprintf("printf '%d\\n' | sudo tee %s/aside >/dev/null && sudo mv %s/aside %s/temperature", int(celsius*1000), walkedProbe, walkedProbe, walkedProbe))
}

// start starts the service's command as the service's user.
func (n *newcomer) start() {
	n.t.Helper()
	// StateDirectory= of the unit makes the folder.
	n.sh("[ -d " + packagedData + " ] || sudo install -d -o ootherm -g ootherm -m 750 " + packagedData)
	n.log = &bytes.Buffer{}
	n.station = exec.Command("sudo", "setpriv", "--reuid=ootherm", "--regid=ootherm", "--init-groups", "ootherm", "run", "--config", packagedConfig)
	n.station.Stderr = n.log
	n.station.WaitDelay = time.Second
	if err := n.station.Start(); err != nil {
		n.t.Fatal(err)
	}
	n.ended = make(chan struct{})
	go func(station *exec.Cmd, ended chan struct{}) {
		_ = station.Wait() // it is killed
		close(ended)
	}(n.station, n.ended)
	eventually(n.t, "the station is well", func() bool {
		select {
		case <-n.ended:
			n.t.Fatal("the station ended")
		default:
		}
		_, code := page(packagedPage + "/healthz")
		return code == http.StatusOK
	})
}

// pull ends the station as a power cut would.
func (n *newcomer) pull() {
	n.t.Helper()
	n.sh(killStation)
	<-n.ended
}

// page gets a page; the code is 0 where nobody answers.
func page(url string) (text string, code int) {
	resp, err := http.Get(url)
	if err != nil {
		return "", 0
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		return "", 0
	}
	return string(body), resp.StatusCode
}

func (n *newcomer) sum(path string) string {
	n.t.Helper()
	return n.sh("sudo sha256sum " + path)
}

// The README's demo shows its page, and leaves nothing behind.
func TestReadmeDemo(t *testing.T) {
	c := exec.Command("go", "run", "./cmd/ootherm", "demo")
	c.Dir = clone
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	var said bytes.Buffer
	c.Stdout, c.Stderr = &said, &said
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		_ = c.Wait() // go run ends with 1 after an interrupt
		close(ended)
	}()
	over := func() bool {
		select {
		case <-ended:
			return true
		default:
			return false
		}
	}
	t.Cleanup(func() { _ = syscall.Kill(-c.Process.Pid, syscall.SIGKILL) })
	began := time.Now()
	within(t, 5*time.Minute, "the demo's page answers", func() bool {
		if over() {
			t.Fatalf("the demo ended:\n%s", said.String())
		}
		text, code := page(packagedPage)
		return code == http.StatusOK && strings.Contains(text, `href="/b/`) // a box of the season
	})
	t.Logf("the page answers after %.0f s", time.Since(began).Seconds())
	if err := syscall.Kill(-c.Process.Pid, syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the demo ends", over)
	if left, err := filepath.Glob(filepath.Join(os.TempDir(), "ootherm*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	if out, err := exec.Command("git", "-C", clone, "status", "--porcelain").CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("the demo changed the clone: %v\n%s", err, out)
	}
}

// From a clone to the first alarm in the mail, and back after the card died.
func TestWalk(t *testing.T) {
	if _, err := os.Stat("/usr/bin/ootherm"); err == nil {
		t.Fatal("ootherm is installed; the walk needs a bare root")
	}
	n := &newcomer{t: t}
	t.Cleanup(func() { t.Logf("times:\n%s", strings.Join(n.times, "\n")) })
	t.Cleanup(func() {
		_ = exec.CommandContext(context.Background(), "bash", "-c", killStation).Run()
	})
	n.mail, n.port = openMailbox(t)
	n.sh("sudo mkdir -p " + walkedProbe)
	n.warm(24.125)

	arch := strings.TrimSpace(n.sh("dpkg --print-architecture"))
	n.step("package", func() {
		n.sh("bash deploy/package " + arch)
		n.sh("cd dist && sha256sum --check --strict SHA256SUMS")
	})
	n.step("install", func() { n.install() })
	n.step("probes", func() { n.shows(n.sh("sudo ootherm probes"), "28-0416a2795aff", "24.1") })
	n.step("setup", n.setup)
	n.step("start", func() { n.start() })
	n.step("note", func() {
		n.sh("sudo ootherm book note dam --name Sorrel --profile 'crested gecko'")
		n.sh("sudo ootherm book note box --box B1 --zone room")
		n.sh("sudo ootherm book note found --dam Sorrel --eggs 2 --box B1")
		n.window()
	})
	n.step("who may write", func() {
		if out, err := n.try("ootherm book list"); err == nil || !strings.Contains(out, "sudo adduser keeper ootherm") {
			n.t.Errorf("without the group: %v\n%s", err, out)
		}
		n.sh("sudo adduser --quiet keeper ootherm")
		if out, err := n.try("ootherm book list"); err == nil || !strings.Contains(out, "log out and in again") {
			n.t.Errorf("before the next login: %v\n%s", err, out)
		}
		n.shows(n.sh("sudo su - keeper -c 'ootherm book list'"), "Sorrel")
	})
	n.step("mail", func() {
		n.warm(30)
		// The alarm begins ten minutes outside the band: the default on-delay.
		within(n.t, 13*time.Minute, "a mail says that it is too warm", func() bool {
			texts, _ := n.mail.told("too warm")
			return len(texts) > 0
		})
		n.warm(24.125)
	})
	backup := filepath.Join(n.t.TempDir(), "records.db")
	n.step("backup", func() { n.sh("sudo ootherm backup " + backup) })
	n.step("power cut", func() {
		n.pull()
		n.start()
		n.window()
	})
	n.step("upgrade", func() { n.upgrade(arch) })
	n.step("card lost", func() {
		n.loseCard()
		n.shows(n.sh("sudo ootherm restore "+backup), "1 clutch with 2 eggs", "sudo systemctl start ootherm")
		n.start()
		n.window()
	})
	n.step("new card from the old one", func() {
		n.pull()
		n.sh("sudo cp -a " + packagedData + " /mnt/old && sudo rm -rf " + packagedData)
		n.shows(n.sh("sudo ootherm restore /mnt/old"), "1 clutch with 2 eggs", "the readings are back")
		n.start()
		n.window()
	})
	n.step("purge", n.purge)
}

func (n *newcomer) install() {
	n.t.Helper()
	n.sh("sudo apt-get -q -o DPkg::Lock::Timeout=600 update && sudo apt-get -q -y -o DPkg::Lock::Timeout=600 install ./dist/ootherm_*.deb </dev/null")
}

// setup answers the questions of setup at a terminal. The page stays on this machine.
func (n *newcomer) setup() {
	x := sitAt(n.t, exec.CommandContext(n.t.Context(), "sudo", "ootherm", "setup"))
	x.answer("Temperatures in", "c")
	x.answer("A name for this station", "")
	x.answer("the place the boxes stand in [room]", "")
	x.answer("It is a", "room")
	x.answer("it is held at", "24")
	x.answer("Whose eggs", "crested gecko")
	x.answer("Another place", "")
	x.answer("reads 24.1 °C", "air")
	x.answer("Does a hub publish", "")
	x.answer("Send alarms by", "email")
	x.answer("the mail server", "127.0.0.1:"+n.port)
	x.answer("to whom", "keeper@example.org")
	x.answer("a name for it", "mail")
	x.answer("user", "")
	x.answer("And by", "")
	x.answer("An address to call", "")
	x.answer("A folder for the data", "")
	x.answer("Open the page to the home network", "n")
	x.answer("The first dam", "")
	x.answer("Write "+packagedConfig, "y")
	x.answer("Send a test message by mail now", "y")
	x.read("sudo -u ootherm ootherm run --config " + packagedConfig)
	if code := x.code(); code != 0 {
		n.t.Errorf("setup ended with %d:\n%s", code, x.screen())
	}
}

// window fails unless the clutch has a window.
func (n *newcomer) window() {
	n.t.Helper()
	eventually(n.t, "the clutch has a window", func() bool {
		out, err := n.try("sudo ootherm windows --json")
		return err == nil && strings.Contains(out, `"check_from"`)
	})
}

// upgrade installs a newer package whose sample differs, as apt does without a terminal.
func (n *newcomer) upgrade(arch string) {
	before := n.sum(packagedConfig)
	n.sh("echo '# a later line' >>deploy/ootherm.toml && git -c user.name=k -c user.email=k@example.org commit -qam 'Change the sample'")
	n.sh("rm -f dist/*.deb && bash deploy/package " + arch)
	n.pull()
	n.install()
	if after := n.sum(packagedConfig); after != before {
		n.t.Errorf("the upgrade changed the configuration: %s, was %s", after, before)
	}
	n.shows(n.sh("sudo ootherm check"), "1 zone, 1 probe, 1 sender")
	n.start()
	n.window()
}

// loseCard takes the data away, as a new card has none.
func (n *newcomer) loseCard() {
	n.t.Helper()
	n.pull()
	n.sh(fmt.Sprintf("sudo rm -rf %s && sudo install -d -o ootherm -g ootherm -m 750 %s", packagedData, packagedData))
}

func (n *newcomer) purge() {
	n.pull()
	book := n.sum(packagedData + "/records.db")
	out := n.sh("sudo apt-get -q -y -o DPkg::Lock::Timeout=600 purge ootherm </dev/null")
	n.shows(out, packagedData)
	if n.sum(packagedData+"/records.db") != book {
		n.t.Error("the purge changed the book")
	}
	if left, err := n.try("sudo ls /etc/ootherm"); err == nil && strings.Contains(left, "password") {
		n.t.Errorf("a password stays in /etc/ootherm: %s", left)
	}
}
