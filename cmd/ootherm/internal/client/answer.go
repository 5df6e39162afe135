package client

import (
	"io"
	"mime"
	"net/http"
	"strings"
)

// writeErrors keeps the error of a writer, to tell it from one of the reader.
type writeErrors struct {
	to  io.Writer
	err error
}

func (w *writeErrors) Write(p []byte) (n int, err error) {
	n, w.err = w.to.Write(p)
	return n, w.err
}

// mediaType gives the type of an answer; it is empty where the answer names none.
func mediaType(resp *http.Response) string {
	kind, _, _ := mime.ParseMediaType(resp.Header.Get("Content-Type"))
	return kind
}

// refusal gives the words of an answer that refuses. The station answers a command with a
// problem or in plain text, so a page comes from something else.
func refusal(resp *http.Response, text string) string {
	if mediaType(resp) == "text/html" {
		return "it answered with a page (" + resp.Status + ") that is not the station's: does something else answer in its place?"
	}
	return strings.TrimSpace(text)
}
