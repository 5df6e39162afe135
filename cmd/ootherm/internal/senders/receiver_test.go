package senders_test

import (
	"bytes"
	"encoding/pem"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/senders"
)

// A test message leaves nothing at an alert receiver, whose own authority vouches for it.
func TestATestLeavesNoAlert(t *testing.T) {
	receiver := alertReceiver{map[string]bool{}}
	server := httptest.NewTLSServer(receiver)
	defer server.Close()
	ca := filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(ca, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw}), 0o600); err != nil {
		t.Fatal(err)
	}
	section := fmt.Sprintf("[[sender]]\nname = \"fleet\"\nkind = \"alertmanager\"\nurl = %q\n", server.URL)
	var output bytes.Buffer
	if err := senders.SendTest(t.Context(), &output, benchtest.Written(t, section), "fleet", time.Now); err == nil {
		t.Error("a server that nobody vouches for got a message")
	}
	if err := senders.SendTest(t.Context(), &output, benchtest.Written(t, section+fmt.Sprintf("ca_file = %q\n", ca)), "fleet", time.Now); err != nil {
		t.Fatal(err)
	}
	if len(receiver.stands) > 0 {
		t.Errorf("after the test stands %v", receiver.stands)
	}
}
