// Package mqtttest starts a real broker, and looks at what it keeps.
package mqtttest

import (
	"bufio"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/eclipse/paho.golang/paho"
)

// Broker starts a mosquitto (Debian: package mosquitto) on loopback, with a user
// "keeper" whose password is "correct horse", and gives its
// port. More lines go into its configuration.
func Broker(t testing.TB, more ...string) string {
	t.Helper()
	dir, port := t.TempDir(), FreePort(t)
	passwords := filepath.Join(dir, "passwords")
	if err := os.WriteFile(passwords, []byte("keeper:correct horse\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mosquitto_passwd", "-U", passwords).CombinedOutput(); err != nil {
		t.Fatalf("mosquitto_passwd, of Debian's package mosquitto: %v\n%s", err, out)
	}
	conf := filepath.Join(dir, "conf")
	lines := append([]string{"listener " + port + " 127.0.0.1", "allow_anonymous true", "password_file " + passwords, "log_dest stderr"}, more...)
	if os.Getuid() == 0 { // else it gives up root, and may not read the directory
		lines = append(lines, "user root")
	}
	if err := os.WriteFile(conf, []byte(strings.Join(lines, "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("mosquitto", "-c", conf)
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatalf("mosquitto, of Debian's package mosquitto: %v", err)
	}
	said := bufio.NewScanner(log)
	var heard strings.Builder
	for running := false; !running; {
		if !said.Scan() {
			t.Fatalf("mosquitto ended: %v, %v\n%s", cmd.Wait(), said.Err(), heard.String())
		}
		fmt.Fprintln(&heard, said.Text())
		running = strings.Contains(said.Text(), "running")
	}
	drained := make(chan struct{})
	go func() {
		defer close(drained)
		_, _ = io.Copy(io.Discard, log) // lest it block on a full pipe
	}()
	t.Cleanup(func() {
		if err := cmd.Process.Kill(); err != nil {
			t.Error(err)
		}
		<-drained
		_ = cmd.Wait() // killed is how it ends
	})
	return port
}

// FreePort gives a port of loopback that nothing listens at.
func FreePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	return port
}

// Retained is what the broker at a port keeps for whoever comes, by topic.
func Retained(t testing.TB, port string) map[string]string {
	t.Helper()
	conn, err := net.Dial("tcp", "127.0.0.1:"+port)
	if err != nil {
		t.Fatal(err)
	}
	got := make(chan *paho.Publish, 64)
	c := paho.NewClient(paho.ClientConfig{Conn: conn, OnPublishReceived: []func(paho.PublishReceived) (bool, error){
		func(p paho.PublishReceived) (bool, error) { got <- p.Packet; return true, nil }}})
	if _, err := c.Connect(t.Context(), &paho.Connect{KeepAlive: 30, CleanStart: true}); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.Disconnect(&paho.Disconnect{}) }() // it has said what it had to
	all := map[string]string{}
	// What is retained comes before what is published after the subscription.
	if _, err := c.Subscribe(t.Context(), &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: "#", QoS: 1}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Publish(t.Context(), &paho.Publish{Topic: "end", QoS: 1}); err != nil {
		t.Fatal(err)
	}
	for p := range got {
		if p.Topic == "end" {
			return all
		}
		if p.Retain { // else it was published just now
			all[p.Topic] = string(p.Payload)
		}
	}
	return nil
}

// Certificate writes a self-made certificate for this machine, and its key.
func Certificate(t testing.TB) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalECPrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "EC PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

// Publish has a broker at a port publish a message to those who have subscribed; retained, it
// also keeps it.
func Publish(t testing.TB, port, topic, payload string, retained bool) {
	t.Helper()
	conn, err := net.Dial("tcp", "127.0.0.1:"+port)
	if err != nil {
		t.Fatal(err)
	}
	c := paho.NewClient(paho.ClientConfig{Conn: conn})
	if _, err := c.Connect(t.Context(), &paho.Connect{KeepAlive: 30, CleanStart: true}); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Publish(t.Context(), &paho.Publish{Topic: topic, Payload: []byte(payload), QoS: 1, Retain: retained}); err != nil {
		t.Fatal(err)
	}
	_ = c.Disconnect(&paho.Disconnect{}) // it is published
}
