package listener

import (
	"context"
	"io"
	"net/http"
	"time"
)

// Limits of the work for callers. With more answers computed at once, a poll and a message
// would wait for as many time slices of the processor (10 ms each in Go's scheduler) at
// each of their steps. Both are our choice.
const (
	maxComputed = 2 // answers of one listener that are computed at the same time
	turnTime    = 10 * time.Second
)

// turns are the places of the answers that are computed. They are given in the order in
// which they are asked for.
type turns chan struct{}

// turnsKey finds the turns of a listener in the context of its requests.
type turnsKey struct{}

// limitComputed computes few answers at the same time. A request that gets no turn in time is
// answered 503. While an answer waits for its caller, to send or to read, the turn is
// another one's, so that slow callers hold up nobody.
func limitComputed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		all, ok := r.Context().Value(turnsKey{}).(turns)
		if !ok {
			next.ServeHTTP(w, r)
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), turnTime)
		defer cancel()
		select {
		case all <- struct{}{}:
		case <-ctx.Done():
			w.Header().Set("Retry-After", "10")
			http.Error(w, "The station answers too many callers. Try again in ten seconds.", http.StatusServiceUnavailable)
			return
		}
		defer func() { <-all }()
		r.Body = turnBody{r.Body, all}
		next.ServeHTTP(turnWriter{w, all}, r)
	})
}

// pause gives the turn away while do waits for the caller.
func (t turns) pause(do func()) {
	<-t
	do()
	t <- struct{}{}
}

// turnWriter is a response that pauses its turn while it is sent.
type turnWriter struct {
	http.ResponseWriter
	turns turns
}

func (w turnWriter) Write(p []byte) (n int, err error) {
	w.turns.pause(func() { n, err = w.ResponseWriter.Write(p) })
	return n, err
}

// Unwrap lets a [http.ResponseController] find the connection.
func (w turnWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// turnBody is a body that pauses its turn while it is read.
type turnBody struct {
	io.ReadCloser
	turns turns
}

func (b turnBody) Read(p []byte) (n int, err error) {
	b.turns.pause(func() { n, err = b.ReadCloser.Read(p) })
	return n, err
}
