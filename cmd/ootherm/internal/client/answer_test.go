package client

import (
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
)

// The station answers a command with a problem or in plain text, which is shown as it is. A
// page comes from another program, and is not shown.
func TestRefusedInPlainText(t *testing.T) {
	dir := t.TempDir()
	data := filepath.Join(dir, "data")
	if err := os.Mkdir(data, 0o700); err != nil {
		t.Fatal(err)
	}
	config := filepath.Join(dir, "o.toml")
	text := fmt.Sprintf("[station]\nurl = \"http://eggroom.local\"\ndata = %q\n[[probe]]\nname = \"p\"\ndriver = \"simulated\"\n[[zone]]\nname = \"room\"\nkind = \"room\"\nprobes = [\"p\"]\n", data)
	if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("unix", daemon.SocketPath(data))
	if err != nil {
		t.Fatal(err)
	}
	page := ""
	srv := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/v1/now" {
			_, _ = w.Write([]byte(`{"boxes":[{"box":"B1"}]}`))
			return
		}
		kind := "text/html; charset=utf-8"
		switch {
		case strings.HasPrefix(page, "{"):
			kind = "application/problem+json"
		case !strings.Contains(page, "<"):
			kind = "text/plain; charset=utf-8"
		}
		if got := r.Header.Get("Accept"); !strings.Contains(got, "text/plain") || strings.Contains(got, "text/html") {
			t.Errorf("the command accepts %q, want plain text and no page", got)
		}
		w.Header().Set("Content-Type", kind)
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = w.Write([]byte(page))
	})}
	ended := make(chan error)
	go func() { ended <- srv.Serve(l) }()
	defer func() {
		_ = srv.Close()
		<-ended
	}()
	for _, c := range []struct{ page, want string }{
		{"The station has only just started.\n", "The station has only just started."},
		{`{"type":"about:blank","title":"Service Unavailable","status":503,"detail":"It is busy."}`, "It is busy."},
		{"<html><h1>Gateway</h1></html>", "it answered with a page (503 Service Unavailable) that is not the station's: does something else answer in its place?"},
	} {
		page = c.page
		files, err := Labels(t.Context(), config, daemon.Build{}, nil, 203, filepath.Join(dir, "out"))
		if err == nil || len(files) > 0 || !strings.HasSuffix(err.Error(), c.want) || strings.Contains(err.Error(), "<") {
			t.Errorf("files %v, error %v, want %q", files, err, c.want)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "out")); err == nil {
		t.Error("a folder was made for no labels")
	}
}
