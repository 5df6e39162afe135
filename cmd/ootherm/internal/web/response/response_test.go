package response

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// answering gives a handler that answers body as a type.
func answering(kind string, body []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		for part := body; len(part) > 0; {
			n := min(len(part), 1000)
			_, _ = w.Write(part[:n])
			part = part[n:]
		}
	}
}

func ask(h http.Handler, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func unpack(t *testing.T, w *httptest.ResponseRecorder) []byte {
	t.Helper()
	if w.Header().Get("Content-Encoding") != "gzip" {
		return w.Body.Bytes()
	}
	z, err := gzip.NewReader(w.Body)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return body
}

func TestAnswersAreCompressedWhereAskedFor(t *testing.T) {
	body := bytes.Repeat([]byte("eggs in vermiculite "), 100)
	for name, x := range map[string]struct {
		kind   string
		size   int
		header []string
		packed bool
	}{
		"a page":             {"text/html; charset=utf-8", 2000, []string{"Accept-Encoding", "gzip, deflate, br"}, true},
		"JSON":               {"application/json", 2000, []string{"Accept-Encoding", "deflate, GZIP;q=0.5"}, true},
		"not asked for":      {"text/html", 2000, nil, false},
		"refused":            {"text/html", 2000, []string{"Accept-Encoding", "gzip;q=0, br"}, false},
		"refused, in words":  {"text/html", 2000, []string{"Accept-Encoding", "gzip; q=0.000"}, false},
		"short":              {"text/html", 1000, []string{"Accept-Encoding", "gzip"}, false},
		"a picture":          {"image/png", 2000, []string{"Accept-Encoding", "gzip"}, false},
		"plain text":         {"text/plain", 2000, []string{"Accept-Encoding", "gzip"}, false},
		"by this page":       {"text/html", 2000, []string{"Accept-Encoding", "gzip", "Sec-Fetch-Site", "same-origin"}, true},
		"by another site":    {"text/html", 2000, []string{"Accept-Encoding", "gzip", "Sec-Fetch-Site", "cross-site"}, false},
		"by another program": {"text/html", 2000, []string{"Accept-Encoding", "gzip", "Sec-Fetch-Site", "same-site"}, false},
	} {
		t.Run(name, func(t *testing.T) {
			w := ask(New(answering(x.kind, body[:x.size]), nil), x.header...)
			if packed := w.Header().Get("Content-Encoding") == "gzip"; packed != x.packed {
				t.Errorf("compressed: %t, want %t", packed, x.packed)
			}
			if x.packed && w.Body.Len() > x.size/10 {
				t.Errorf("%d bytes of %d are left", w.Body.Len(), x.size)
			}
			if got := unpack(t, w); !bytes.Equal(got, body[:x.size]) {
				t.Errorf("got %d bytes, want %d", len(got), x.size)
			}
		})
	}
}

// A reader who has the answer gets none; any other byte is another answer.
func TestUnchangedAnswersAreNotSentAgain(t *testing.T) {
	body := bytes.Repeat([]byte("shelf 23.4 "), 200)
	h := New(answering("text/html", body), nil)
	first := ask(h)
	tag := first.Header().Get("ETag")
	if !strings.HasPrefix(tag, `W/"`) {
		t.Fatalf("the tag is %q", tag)
	}
	if packed := ask(h, "Accept-Encoding", "gzip"); packed.Header().Get("ETag") != tag {
		t.Errorf("compressed, the tag is %q and not %q", packed.Header().Get("ETag"), tag)
	}
	for _, sent := range []string{tag, strings.TrimPrefix(tag, "W/"), `"x", ` + tag, "*"} {
		if w := ask(h, "If-None-Match", sent); w.Code != http.StatusNotModified || w.Body.Len() > 0 || w.Header().Get("ETag") != tag {
			t.Errorf("If-None-Match: %s: status %d, %d bytes, tag %q", sent, w.Code, w.Body.Len(), w.Header().Get("ETag"))
		}
	}
	body[3] = 'x'
	if w := ask(h, "If-None-Match", tag); w.Code != http.StatusOK || !bytes.Equal(w.Body.Bytes(), body) {
		t.Errorf("changed: status %d", w.Code)
	}
	refused := New(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		w.WriteHeader(http.StatusNotFound)
		_, _ = w.Write(body)
	}), nil)
	if w := ask(refused, "If-None-Match", "*"); w.Code != http.StatusNotFound || w.Header().Get("ETag") != "" {
		t.Errorf("a refusal: status %d, tag %q", w.Code, w.Header().Get("ETag"))
	}
}

// What is too long to hold comes whole, compressed or not, and holds two writers of gzip at
// most.
func TestLongAnswersComeWhole(t *testing.T) {
	body := bytes.Repeat([]byte("0123456789abcdef"), maxHeldBytes/16+1000)
	h := New(answering("application/json", body), nil)
	for _, encoding := range []string{"", "gzip"} {
		w := ask(h, "Accept-Encoding", encoding)
		if w.Header().Get("Content-Encoding") != encoding || w.Header().Get("ETag") != "" {
			t.Errorf("%q: encoding %q, tag %q", encoding, w.Header().Get("Content-Encoding"), w.Header().Get("ETag"))
		}
		if got := unpack(t, w); !bytes.Equal(got, body) {
			t.Errorf("%q: got %d bytes, want %d", encoding, len(got), len(body))
		}
	}
	x := h.(*handler)
	for range maxGzipStreams {
		x.streams <- struct{}{}
	}
	if w := ask(h, "Accept-Encoding", "gzip"); w.Header().Get("Content-Encoding") != "" || !bytes.Equal(w.Body.Bytes(), body) {
		t.Errorf("with all places taken: encoding %q, %d bytes", w.Header().Get("Content-Encoding"), w.Body.Len())
	}
}

// A handler that fails in the middle must not leave half an answer that looks whole.
func TestBrokenAnswersAreCutOff(t *testing.T) {
	for name, size := range map[string]int{"held": 2000, "sent on": 2 * maxHeldBytes} {
		h := New(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			answering("application/json", bytes.Repeat([]byte("x"), size))(w, r)
			panic(http.ErrAbortHandler)
		}), nil)
		server := httptest.NewServer(h)
		for range maxGzipStreams + 1 { // a place that is not given back would show
			r, err := http.NewRequest(http.MethodGet, server.URL, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Accept-Encoding", "gzip")
			a, err := server.Client().Do(r)
			if err == nil {
				_, err = io.ReadAll(a.Body)
				_ = a.Body.Close()
			}
			if err == nil {
				t.Errorf("%s: the answer looks whole", name)
			}
		}
		if n := len(h.(*handler).streams); n != 0 {
			t.Errorf("%s: %d places are still taken", name, n)
		}
		server.Close()
	}
}

// Many readers of one change cost one page; another state, and two seconds later, another.
func TestReadersShareAnAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var mu sync.Mutex
		made, state := 0, 1
		h := New(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			mu.Lock()
			made++
			mu.Unlock()
			w.Header().Set("Content-Type", "text/html")
			_, _ = w.Write(bytes.Repeat([]byte("a page "), 300))
		}), func(r *http.Request) any {
			if r.URL.Query().Has("own") {
				return nil
			}
			return state
		})
		for range 50 {
			if w := ask(h, "Accept-Encoding", "gzip"); len(unpack(t, w)) != 2100 || w.Header().Get("Content-Type") != "text/html" {
				t.Fatalf("%d bytes of %s", w.Body.Len(), w.Header().Get("Content-Type"))
			}
		}
		if made != 1 {
			t.Errorf("50 readers cost %d pages", made)
		}
		state = 2
		ask(h)
		if made != 2 {
			t.Errorf("another state costs %d pages, want 2", made)
		}
		<-time.After(sharedTime) // in the time of the bubble
		ask(h)
		if made != 3 {
			t.Errorf("%v later: %d pages, want 3", sharedTime, made)
		}
		for i := range 3 * maxSharedAnswers {
			state = 10 + i
			ask(h)
		}
		if n := len(h.(*handler).shared.all); n > maxSharedAnswers {
			t.Errorf("%d answers are kept", n)
		}
	})
}
