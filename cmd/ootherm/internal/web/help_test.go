package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/manual"
)

// Every topic has its page, and every link of a help page leads somewhere.
func TestHelpPages(t *testing.T) {
	h := handler(t, options(season()))
	list := get(h, "/help")
	if list.Code != http.StatusOK {
		t.Fatalf("/help: %d", list.Code)
	}
	href := regexp.MustCompile(`href="(/help[^"#]*)`)
	pages, links := []string{list.Body.String()}, elementsOf(t, list).links()
	for _, topic := range manual.Topics() {
		if links["/help/"+topic.Name] != topic.Title {
			t.Errorf("/help does not link to %s", topic.Name)
		}
		w := get(h, "/help/"+topic.Name)
		if w.Code != http.StatusOK || strings.Count(w.Body.String(), "<h1") != 1 {
			t.Errorf("/help/%s: %d with %d headings", topic.Name, w.Code, strings.Count(w.Body.String(), "<h1"))
		}
		pages = append(pages, w.Body.String())
	}
	seen := map[string]bool{}
	for _, page := range pages {
		for _, m := range href.FindAllStringSubmatch(page, -1) {
			if !seen[m[1]] && get(h, m[1]).Code != http.StatusOK {
				t.Errorf("%s leads nowhere", m[1])
			}
			seen[m[1]] = true
		}
	}
	if w := get(h, "/help/no-such-topic"); w.Code != http.StatusNotFound {
		t.Errorf("an unknown topic: %d", w.Code)
	}
	if first := elementsOf(t, get(h, "/")); !first.has("a", "href=/help") {
		t.Error("the first page does not link to the help")
	}
}

// A station that has only just started shows its help already.
func TestHelpBeforeTheFirstState(t *testing.T) {
	if w := get(handler(t, options(nil)), "/help/install"); w.Code != http.StatusOK {
		t.Errorf("%d", w.Code)
	}
}
