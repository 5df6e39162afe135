package listener

import (
	"context"
	"net/http"
	"time"
)

// sendTime is how long one part of a stream may take to send (our choice): a caller who is
// away for longer frees its connection.
const sendTime = 20 * time.Second

// stoppingKey finds, in the context of a request, the context that ends when the server
// begins to stop.
type stoppingKey struct{}

// Stream has do send to a caller for as long as both stay. The request's turn is another
// one's meanwhile, and its connection still counts. The context that do gets ends when the
// caller goes away and when the server stops. do sends with the function that it gets.
func Stream(w http.ResponseWriter, r *http.Request, do func(ctx context.Context, send func(text string) error)) {
	ctx, cancel := context.WithCancel(r.Context())
	defer cancel()
	if stopping, ok := r.Context().Value(stoppingKey{}).(context.Context); ok {
		defer context.AfterFunc(stopping, cancel)()
	}
	raw, all := untied(w)
	control := http.NewResponseController(raw)
	// A writer without a deadline, as in a test, has none to clear. A read deadline that
	// passes would end the request's context.
	_ = control.SetReadDeadline(time.Time{})
	send := func(text string) error {
		_ = control.SetWriteDeadline(time.Now().Add(sendTime))
		if _, err := raw.Write([]byte(text)); err != nil {
			return err
		}
		return control.Flush()
	}
	if all == nil {
		do(ctx, send)
		return
	}
	all.pause(func() { do(ctx, send) })
}

// untied finds the writer below the one that pauses turns, and these turns; nil where there
// are none.
func untied(w http.ResponseWriter) (http.ResponseWriter, turns) {
	for x := w; ; {
		if t, ok := x.(turnWriter); ok {
			return t.ResponseWriter, t.turns
		}
		inner, ok := x.(interface{ Unwrap() http.ResponseWriter })
		if !ok {
			return w, nil
		}
		x = inner.Unwrap()
	}
}
