package web

import (
	"net/http"
	"strings"
	"testing"
)

// Pages, the API, the calendar and the files of the pages are compressed, and are not sent
// again to a reader who has them. The calendar stays the same while only the time passes.
func TestAnswersAreCompressedAndHaveATag(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	n := season()
	o := options(n)
	o.Writer, o.Book, o.Calendar, o.Revisions = d, d, feedSecret, new(counted)
	h := handler(t, o)
	for _, target := range []string{"/", "/z/room", "/medium", "/review", "/help/alarm-kinds", "/api/v1/now", "/api/v1/readings?probe=shelf", "/calendar/" + feedSecret + ".ics", "/style.css", "/form.js"} {
		w := ask(h, target, here, with("Accept-Encoding", "gzip"))
		if w.Code != http.StatusOK || w.Header().Get("Content-Encoding") != "gzip" || w.Header().Get("Vary") == "" {
			t.Errorf("%s: status %d, encoding %q, vary %q", target, w.Code, w.Header().Get("Content-Encoding"), w.Header().Get("Vary"))
		}
		tag := w.Header().Get("ETag")
		if tag == "" {
			t.Errorf("%s has no tag", target)
		}
		if strings.HasPrefix(target, "/calendar/") {
			n.At = n.At.Add(o.Every)
		}
		if w := ask(h, target, here, with("If-None-Match", tag)); w.Code != http.StatusNotModified || w.Body.Len() != 0 {
			t.Errorf("%s again: status %d, %d bytes", target, w.Code, w.Body.Len())
		}
	}
}

// Who may write gets another first page than who may read, also at the same moment.
func TestReadersOfTheFirstPageAreKeptApart(t *testing.T) {
	d, _ := bookDesk(t)
	o := options(season())
	o.Writer, o.Book = d, d
	h, held := handler(t, o), with("If-None-Match", `"another"`)
	if own := ask(h, "/", here, held).Body.String(); !strings.Contains(own, `action="/act"`) {
		t.Error("this machine may not write")
	}
	if other := ask(h, "/", held).Body.String(); strings.Contains(other, `action="/act"`) || !strings.Contains(other, "egg room") {
		t.Error("another machine gets the page of this one")
	}
}
