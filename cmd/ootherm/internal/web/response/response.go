// Package response compresses answers, gives them an ETag and shares them among readers who
// ask for the same at the same moment. It owns how an answer goes over the network. It must
// not know what an answer says and who may read it.
//
// # Decisions
//
//   - A compressed page gives away a secret (BREACH: Gluck, Harris, Prado 2013) where a
//     stranger can make a reader's browser ask for a page that holds the secret beside the
//     stranger's own text, many times over. Here a session's cookie is SameSite=Strict, so a
//     request that another site causes gets the page for the passphrase. Another program on
//     the same host is the same site; what a browser sends for its pages says so in
//     Sec-Fetch-Site (W3C Fetch Metadata), and is answered uncompressed.
//   - An answer is held whole, up to 256 KB, before it is sent: its ETag is a hash of it, and
//     a writer of gzip, which takes 800 KB, is free again before a slow reader gets the
//     first byte. Longer answers are compressed as they go, two at a time; the others go as
//     they are.
//   - The ETag is weak: compressed and not, an answer has the same.
//   - Pages stay "no-store". A script or a program that holds an answer sends If-None-Match.
//   - Only readers who send If-None-Match share an answer: these are open pages that were told
//     of a change, all in the same second.
package response

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"mime"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
)

// Limits of what is held. All are our choice.
const (
	maxHeldBytes   = 256 << 10
	minGzipBytes   = 1 << 10 // below it, gzip saves no packet
	maxGzipStreams = 2       // of long answers, 800 KB each
)

// handler sends what next answers.
type handler struct {
	next    http.Handler
	shared  sharedAnswers
	streams chan struct{}
}

// New makes a handler that compresses the answers of next and gives them an ETag. The
// identity of a request is what its answer depends on, for requests whose answer may go to
// other readers too; it is comparable, and nil for all other requests.
func New(next http.Handler, identity func(*http.Request) any) http.Handler {
	return &handler{next: next, shared: sharedAnswers{identity: identity}, streams: make(chan struct{}, maxGzipStreams)}
}

// ServeHTTP answers from what is shared, else from the next handler.
func (h *handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	key := h.shared.key(r)
	if a, ok := h.shared.find(key); ok {
		a.send(w, r)
		return
	}
	x := &writer{ResponseWriter: w, request: r, streams: h.streams}
	defer x.end() // also after a panic, when the answer is cut off
	h.next.ServeHTTP(x, r)
	if a, ok := x.finish(); ok {
		h.shared.keep(key, a)
		a.send(w, r)
	}
}

// writer holds an answer back until it is whole or too long to hold.
type writer struct {
	http.ResponseWriter
	request *http.Request
	streams chan struct{}
	status  int
	held    *bytes.Buffer // nil: the answer goes out as it is written
	stream  *gzip.Writer  // nil: it goes out uncompressed
}

// Unwrap lets a [http.ResponseController] find the connection.
func (w *writer) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// WriteHeader decides by the header whether the answer is held.
func (w *writer) WriteHeader(status int) {
	if w.status != 0 {
		return
	}
	w.status = status
	if h := w.Header(); compressible(h.Get("Content-Type")) && h.Get("Content-Encoding") == "" {
		w.held = &bytes.Buffer{}
		return
	}
	w.ResponseWriter.WriteHeader(status)
}

// Write holds a part of the answer, or sends it.
func (w *writer) Write(p []byte) (int, error) {
	if w.status == 0 {
		w.WriteHeader(http.StatusOK)
	}
	switch {
	case w.held != nil && w.held.Len()+len(p) <= maxHeldBytes:
		return w.held.Write(p)
	case w.held != nil:
		if err := w.release(); err != nil {
			return 0, err
		}
		return w.Write(p)
	case w.stream != nil:
		return w.stream.Write(p)
	}
	return w.ResponseWriter.Write(p)
}

// release sends what is held of an answer that became too long.
func (w *writer) release() error {
	held := w.held
	w.held = nil
	w.Header().Add("Vary", "Accept-Encoding")
	if acceptsGzip(w.request) {
		select {
		case w.streams <- struct{}{}:
			w.Header().Set("Content-Encoding", "gzip")
			w.Header().Del("Content-Length")
			w.stream = newGzip(w.ResponseWriter)
		default: // too many are under way
		}
	}
	w.ResponseWriter.WriteHeader(w.status)
	_, err := w.Write(held.Bytes())
	return err
}

// finish ends an answer. It returns the answer where it was held.
func (w *writer) finish() (answer, bool) {
	if w.stream != nil {
		_ = w.stream.Close() // a client that went away needs no end
		return answer{}, false
	}
	if w.held == nil {
		return answer{}, false // WriteHeader and Write have sent all there is
	}
	return newAnswer(w.status, w.Header(), w.held.Bytes()), true
}

// end gives back what the answer took.
func (w *writer) end() {
	if w.stream != nil {
		<-w.streams
		gzips.Put(w.stream)
	}
}

// answer is a whole answer.
type answer struct {
	status int
	header http.Header
	tag    string // empty: it has none
	plain  []byte
	packed []byte // nil: it is too short
}

func newAnswer(status int, header http.Header, body []byte) answer {
	a := answer{status: status, header: header.Clone(), plain: body}
	if status == http.StatusOK {
		sum := sha256.Sum256(body)
		a.tag = `W/"` + hex.EncodeToString(sum[:12]) + `"`
	}
	if len(body) >= minGzipBytes {
		var out bytes.Buffer
		z := newGzip(&out)
		_, _ = z.Write(body) // a buffer takes all
		_ = z.Close()
		gzips.Put(z)
		a.packed = out.Bytes()
	}
	return a
}

// send sends the answer, or says that the reader has it already.
func (a answer) send(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	for name, values := range a.header {
		h[name] = slices.Clone(values) // other readers' answers are made of them too
	}
	h.Add("Vary", "Accept-Encoding")
	if a.tag != "" && (r.Method == http.MethodGet || r.Method == http.MethodHead) {
		h.Set("ETag", a.tag)
		if matches(r.Header.Values("If-None-Match"), a.tag) {
			h.Del("Content-Type")
			w.WriteHeader(http.StatusNotModified)
			return
		}
	}
	body := a.plain
	if a.packed != nil && acceptsGzip(r) {
		h.Set("Content-Encoding", "gzip")
		body = a.packed
	}
	h.Del("Content-Length")
	w.WriteHeader(a.status)
	_, _ = w.Write(body) // a client that went away needs no answer
}

// matches reports whether an If-None-Match names a tag; weak tags compare by their text (RFC
// 9110 section 8.8.3.2).
func matches(lines []string, tag string) bool {
	for _, line := range lines {
		for name := range strings.SplitSeq(line, ",") {
			if name = strings.TrimSpace(name); name == "*" || strings.TrimPrefix(name, "W/") == strings.TrimPrefix(tag, "W/") {
				return true
			}
		}
	}
	return false
}

// compressible reports whether answers of a type are held, hashed and compressed. Metrics
// are compressed by their own handler.
func compressible(contentType string) bool {
	kind, _, err := mime.ParseMediaType(contentType)
	if err != nil {
		return false
	}
	switch kind {
	case "text/html", "text/css", "text/javascript", "text/calendar", "text/csv", "application/json", "application/problem+json",
		"application/x-ndjson", "application/manifest+json", "application/yaml", "image/svg+xml":
		return true
	}
	return false
}

// acceptsGzip reports whether a request asks for gzip (RFC 9110 section 12.5.3), comes over
// the network and was not caused by another site.
func acceptsGzip(r *http.Request) bool {
	if a, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr); ok && a.Network() == "unix" {
		return false
	}
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
	default:
		return false
	}
	for _, line := range r.Header.Values("Accept-Encoding") {
		for part := range strings.SplitSeq(line, ",") {
			coding, weight, _ := strings.Cut(part, ";")
			if !strings.EqualFold(strings.TrimSpace(coding), "gzip") {
				continue
			}
			switch q, _ := strings.CutPrefix(strings.ToLower(strings.TrimSpace(weight)), "q="); strings.TrimRight(q, "0") {
			case "", "0.":
				return weight == ""
			}
			return true
		}
	}
	return false
}

// gzips are writers that no answer uses.
var gzips = sync.Pool{New: func() any { return gzip.NewWriter(nil) }}

func newGzip(to interface{ Write([]byte) (int, error) }) *gzip.Writer {
	z := gzips.Get().(*gzip.Writer)
	z.Reset(to)
	return z
}
